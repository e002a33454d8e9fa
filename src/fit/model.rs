//! A fitted life model: numbers only, never data.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::identified::{Identified, Mark};
use super::interval::Quantity;
use super::newton::Stop;
use super::peaks::Peak;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, full_hours};
use crate::base::math::linalg::packed;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Life, family};

/// What went into a fit, unweighted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Facts {
    /// Lamps that were watched for any time at all, or pieces of life where hours are missing. Lamps never watched, which
    /// [`crate::lives::Tally::lamps`] counts, say nothing and are left out.
    pub lamps: u64,
    /// Lamps that failed; the sample size that counts.
    pub failures: u64,
    /// Lamps that did not.
    pub censored: u64,
    /// Hours under observation; a failure known to an interval counts to its middle.
    pub exposure_hours: f64,
    /// Oldest age at which a lamp was at risk, hours.
    pub oldest_at_risk_hours: f64,
    /// Oldest age at failure, hours.
    pub oldest_failure_hours: f64,
}

impl Sound for Facts {
    fn check(&self, c: &mut Checks) {
        let parts = self.failures.checked_add(self.censored);
        c.need("lamps", parts == Some(self.lamps), self.lamps, "failures and censored together");
        c.not_negative("exposure_hours", self.exposure_hours);
        c.not_negative("oldest_at_risk_hours", self.oldest_at_risk_hours);
        c.age("oldest_failure_hours", self.oldest_failure_hours, self.oldest_at_risk_hours);
        let most = self.lamps as f64 * self.oldest_at_risk_hours * (1.0 + 1e-9);
        c.need("exposure_hours", self.exposure_hours <= most, self.exposure_hours, format!("at most {most}"));
    }
}

impl Facts {
    /// Says when an age lies past the oldest lamp at risk, where a curve is the family's opinion.
    pub(crate) fn past(&self, age: f64) -> Option<Note> {
        let oldest = self.oldest_at_risk_hours;
        (age > oldest).then(|| {
            Note::new(
                "fit.extrapolated",
                format!(
                    "{} h lies past the oldest lamp at risk ({} h): the figure is the family's opinion",
                    full_hours(age),
                    full_hours(oldest)
                ),
            )
        })
    }

    /// The same for an age with the upper end of its interval: the end lies there first.
    pub(crate) fn past_either(&self, age: f64, high: Option<f64>) -> Option<Note> {
        self.past(age).or_else(|| high.and_then(|high| self.past(high)))
    }
}

/// What a reader must know beside the numbers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// Stable name, such as `fit.weak`.
    pub slug: String,
    /// The sentence.
    pub text: String,
}

impl Note {
    pub(super) fn new(slug: &str, text: impl Into<String>) -> Self {
        Self { slug: slug.into(), text: text.into() }
    }
}

/// Failures from which an estimate stands without a note.
///
/// Our choice: common practice in life data, no single source; below it the Weibull shape is estimated visibly too steep.
pub const ENOUGH_FAILURES: u64 = 10;
/// Failures below which a fit says to read its intervals alone, and a study takes an even rate and keeps today's rule.
///
/// Our choice, without a source: the interval of a shape then spans a factor of three and more.
pub const FEW_FAILURES: u64 = 5;

/// The notes that few failures call for, of a family with a shape.
pub(super) fn failure_notes(failures: u64) -> Vec<Note> {
    few_failures(failures, "a shape estimated too steep")
}

/// The same of any family.
pub(super) fn failure_notes_of(family: &str, failures: u64) -> Vec<Note> {
    let names = crate::family::family(family).map_or(&[][..], |f| f.parameter_names());
    let steep = names.iter().any(|name| *name == "shape" || name.ends_with("_shape"));
    few_failures(failures, if steep { "a shape estimated too steep" } else { "an estimate that lies well off" })
}

fn few_failures(failures: u64, expect: &str) -> Vec<Note> {
    let few = format!("{} {}", counted(failures, "failure"), fitting(failures, "is", "are"));
    if failures < FEW_FAILURES {
        vec![Note::new(
            "fit.interval_only",
            format!("{few} fewer than {FEW_FAILURES}: read the interval, not the estimate"),
        )]
    } else if failures < ENOUGH_FAILURES {
        vec![Note::new("fit.weak", format!("weak: {few} fewer than {ENOUGH_FAILURES}; expect {expect}"))]
    } else {
        Vec::new()
    }
}

/// Slug of the note that records show failures only.
pub(super) const CLAIMS_ONLY: &str = "fit.claims_only";
/// Slug of the note that goes with a limit.
pub(super) const AT_LIMIT: &str = "fit.at_limit";

/// Whether a note says that the records leave something open.
pub(super) fn tells_open(note: &Note) -> bool {
    matches!(note.slug.as_str(), "fit.parameter_open" | CLAIMS_ONLY)
}

/// A fitted life model. Only [`super::fit`] makes one; it holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fit {
    pub(super) family: String,
    pub(super) coordinates: Vec<f64>,
    pub(super) parameters: Vec<f64>,
    /// Packed lower triangle over the coordinates.
    pub(super) covariance: Vec<f64>,
    pub(super) log_likelihood: f64,
    pub(super) scaled_gradient: f64,
    pub(super) condition: f64,
    pub(super) iterations: u64,
    pub(super) stop: Stop,
    pub(super) converged: bool,
    pub(super) facts: Facts,
    pub(super) notes: Vec<Note>,
    /// Local maxima, highest first; only the generalised gamma and families made of others list any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) peaks: Vec<Peak>,
    /// The parameter along which the likelihood rises for ever, where the fit stands in that limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) limit: Option<String>,
    /// For a life with a failure-free time the first age by which a lamp had failed, past which that time cannot lie.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) first_failure: Option<f64>,
    /// What the records say of each parameter; empty where it was not looked at.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) identified: Vec<Mark>,
}

/// The name of a family that this version knows.
pub(super) fn check_family(c: &mut Checks, name: &str) -> Option<&'static dyn Family> {
    let found = family(name);
    c.need("family", found.is_ok(), name, "the name of a family");
    found.ok()
}

impl Sound for Fit {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        let width = family.width();
        c.entries("coordinates", self.coordinates.len(), width);
        c.entries("parameters", self.parameters.len(), width);
        c.entries("covariance", self.covariance.len(), width * (width + 1) / 2);
        for (i, (got, made)) in self.parameters.iter().zip(family.parameters(&self.coordinates)).enumerate() {
            c.equal(&format!("parameters[{i}]"), *got, made);
        }
        for i in 0..width {
            for j in 0..=i {
                let entry = |i, j| self.covariance.get(packed(i, j)).copied().unwrap_or(0.0);
                let (got, most) = (entry(i, j), (entry(i, i) * entry(j, j)).sqrt());
                let holds = got.abs() <= most * (1.0 + 1e-9) && (i != j || got >= 0.0);
                c.need(
                    &format!("covariance[{}]", packed(i, j)),
                    holds,
                    got,
                    "a variance, or a covariance within its bounds",
                );
            }
        }
        c.not_negative("scaled_gradient", self.scaled_gradient);
        if let Some(name) = &self.limit {
            c.need("limit", family.parameter_names().contains(&name.as_str()), name, "the name of a parameter");
        }
        let told = self.notes.iter().any(|note| note.slug == AT_LIMIT);
        c.there("limit", self.limit.is_some(), told, "there beside the note that tells of it only");
        if let Some(first) = self.first_failure {
            let location = self.parameter_at_maximum("location").unwrap_or(f64::INFINITY);
            c.need("first_failure", first >= location, first, "an age past the failure-free time");
        }
        c.follows("converged", &self.converged, &matches!(self.stop, Stop::Gradient | Stop::ClosedForm));
        c.part("facts", &self.facts);
        // What few failures mean must not get lost on the way.
        for note in failure_notes_of(&self.family, self.facts.failures) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
        for (i, peak) in self.peaks.iter().enumerate() {
            c.entries(&format!("peaks[{i}].parameters"), peak.parameters.len(), width);
            let highest = peak.log_likelihood <= self.log_likelihood;
            c.need(
                &format!("peaks[{i}].log_likelihood"),
                highest,
                peak.log_likelihood,
                "no higher than that of the fit",
            );
        }
        if !self.identified.is_empty() {
            c.entries("identified", self.identified.len(), width);
        }
        for (mark, name) in self.identified.iter().zip(family.parameter_names()) {
            c.need("identified", mark.parameter == *name, &mark.parameter, *name);
            c.ends(&format!("identified.{name}"), mark.low, mark.high);
            c.between(&format!("identified.{name}"), self.parameter_at_maximum(name), mark.low, mark.high);
        }
    }
}

impl Fit {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved fit of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// Unconstrained coordinates at the maximum, `(width,)`.
    pub fn coordinates(&self) -> &[f64] {
        &self.coordinates
    }

    /// Parameters with their names, in the order of the family; none for one that the records do not settle, whose
    /// bounds [`Fit::mark_of`] gives.
    pub fn parameters(&self) -> Vec<(&'static str, Option<f64>)> {
        let each = self.parameters_at_maximum().into_iter();
        each.map(|(name, value)| (name, (!self.is_open(name)).then_some(value))).collect()
    }

    /// Where the likelihood is highest: parameters with their names, in the order of the family. One that is marked
    /// [`Identified::No`] has its value here too, though others explain the records about as well.
    pub fn parameters_at_maximum(&self) -> Vec<(&'static str, f64)> {
        self.names().iter().copied().zip(self.parameters.iter().copied()).collect()
    }

    /// Whether no single value stands for a parameter: the records do not settle it, or they show failures only and it
    /// was not looked at.
    pub(super) fn is_open(&self, name: &str) -> bool {
        let known = self.mark_of(name).map(|mark| mark.identified == Identified::No);
        known.unwrap_or(self.claims_only() && self.identified.is_empty())
    }

    /// Whether no single value stands for a quantity, whose value at the maximum is `estimate`.
    pub(super) fn leaves_open(&self, quantity: &Quantity, estimate: f64) -> bool {
        match quantity {
            Quantity::Parameter(name) => self.is_open(name),
            _ => self.tells_of_all_lamps().is_err() || self.rests_on_open(quantity, estimate),
        }
    }

    /// Whether a figure speaks of ages past the oldest lamp at risk while the records leave a parameter open. Up to there
    /// they bear it, whatever the parameter; past it the figure is no more settled than the parameter is.
    pub(super) fn rests_on_open(&self, quantity: &Quantity, estimate: f64) -> bool {
        let oldest = self.facts.oldest_at_risk_hours;
        let past = match quantity {
            Quantity::Parameter(_) | Quantity::Function(_) => false,
            Quantity::Quantile(_) | Quantity::BLife(_) => estimate > oldest,
            Quantity::Mean => estimate > oldest || self.facts.censored > 0,
            Quantity::Reliability(age) | Quantity::Hazard(age) => *age > oldest,
            Quantity::FailureWithin { age_hours, hours } => age_hours + hours > oldest,
        };
        past && self.identified.iter().any(|mark| mark.identified == Identified::No)
    }

    /// Whether the records show failures only.
    pub(super) fn claims_only(&self) -> bool {
        self.notes.iter().any(|note| note.slug == CLAIMS_ONLY)
    }

    /// Refuses figures of all lamps for a fit whose records show failures only: how many lamps fail does not follow from
    /// them, nor does any age or chance that rests on it. A family whose course within the window settles every parameter
    /// says of the lamps beyond it what the family believes, and families that agree within disagree beyond.
    pub(crate) fn tells_of_all_lamps(&self) -> Result<()> {
        if !self.claims_only() {
            return Ok(());
        }
        let open: Vec<&str> = self.names().iter().copied().filter(|name| self.is_open(name)).collect();
        let what = "the records show failures only, which tell how failures lie within the window and not how many lamps fail: \
                    no single value stands for a figure of all lamps";
        let problem = Problem::new("fit.window_only", what).at(Place::input(&self.family));
        let got = if open.is_empty() {
            "records without the lamps that did not fail".to_owned()
        } else {
            format!("records that do not settle {}", open.join(", "))
        };
        Err(Error::new(Kind::Refused, problem.got(got).expected("the lamps shipped (`with_shipped`)")).with_hint(
            "ask for its profile, which needs no single value, or for the shares within the window (`within_window`)",
        ))
    }

    /// What the records say of a parameter by name; none if it was not looked at.
    pub fn mark_of(&self, name: &str) -> Option<&Mark> {
        self.identified.iter().find(|m| m.parameter == name)
    }

    /// One parameter by name, such as `shape`; none if the family has no such parameter or the records do not settle it.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// // One look at each lamp: 2 of 20 had failed by 500 h, 3 of 20 others by 900 h.
    /// let (high, count) = (vec![500.0, f64::INFINITY, 900.0, f64::INFINITY], Some(vec![2, 18, 3, 17]));
    /// let rows = Rows { low: vec![0.0, 500.0, 0.0, 900.0], high, count, ..Rows::default() };
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// let fit = fit(family("never_fails(exponential)")?, &tally, &FitOptions::default(), &Run::new())?;
    /// // How many never fail is anyone's guess: there is no estimate, and the point of the maximum has another name.
    /// assert_eq!(fit.parameter("never_share"), None);
    /// assert!(fit.parameter_at_maximum("never_share").is_some() && fit.life().is_err());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn parameter(&self, name: &str) -> Option<f64> {
        self.parameter_at_maximum(name).filter(|_| !self.is_open(name))
    }

    /// One parameter where the likelihood is highest, settled or not; none if the family has no such parameter.
    pub fn parameter_at_maximum(&self, name: &str) -> Option<f64> {
        self.parameters_at_maximum().into_iter().find(|(n, _)| *n == name).map(|(_, v)| v)
    }

    fn names(&self) -> &'static [&'static str] {
        self.family().map_or(&[], Family::parameter_names)
    }

    /// Covariance of coordinates i and j: inverse of the observed information.
    pub fn coordinate_covariance(&self, i: usize, j: usize) -> Option<f64> {
        let width = self.coordinates.len();
        if i < width && j < width { self.covariance.get(packed(i, j)).copied() } else { None }
    }

    /// Covariance of parameters i and j on their own scale, by the delta method.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let slopes = self.family().ok()?.parameter_slopes(&self.coordinates);
        Some(self.coordinate_covariance(i, j)? * slopes.get(i)? * slopes.get(j)?)
    }

    /// Standard error of a parameter by name, by the delta method; none for one that is held on its boundary or by a
    /// corner of the likelihood, which its note says, or that the records do not settle.
    pub fn standard_error(&self, name: &str) -> Option<f64> {
        if self.is_open(name) {
            return None;
        }
        let i = self.names().iter().position(|n| *n == name)?;
        let variance = self.covariance(i, i).filter(|v| *v > 0.0)?;
        if variance < f64::INFINITY {
            return Some(variance.sqrt());
        }
        // The square of ages near the end of all numbers is no number.
        let slope = self.family().ok()?.parameter_slopes(&self.coordinates).get(i).copied()?;
        Some(self.coordinate_covariance(i, i)?.sqrt() * slope.abs())
    }

    /// Maximised log-likelihood, densities per hour.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// 2 x parameters - 2 x log-likelihood; smaller is better, on the same data only.
    pub fn aic(&self) -> f64 {
        2.0 * self.coordinates.len() as f64 - 2.0 * self.log_likelihood
    }

    /// Largest |gradient| at the end in units of one over a standard error: distance to the true maximum in standard errors.
    pub fn scaled_gradient(&self) -> f64 {
        self.scaled_gradient
    }

    /// Condition of the information matrix with its diagonal scaled to 1: 1 is best.
    pub fn condition(&self) -> f64 {
        self.condition
    }

    /// Iterations of the search.
    pub fn iterations(&self) -> u64 {
        self.iterations
    }

    /// Why the search stopped.
    pub fn stop(&self) -> Stop {
        self.stop
    }

    /// Whether the search reached the maximum.
    pub fn converged(&self) -> bool {
        self.converged
    }

    /// Every local maximum of the likelihood that the searches found, highest first: the first is the one given. Empty
    /// but for the generalised gamma and families made of others.
    pub fn peaks(&self) -> &[Peak] {
        &self.peaks
    }

    /// The parameter along which the likelihood rises for ever, where records that show failures only have no highest point
    /// and the fit stands in that limit of its family: it tells how failures lie within the window
    /// ([`Fit::within_window`]) and nothing else. None for a fit at a highest point.
    pub fn limit(&self) -> Option<&str> {
        self.limit.as_deref()
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The fitted life.
    ///
    /// # Errors
    /// `fit.parameter_open` where the records do not settle a parameter: no single life stands for them; `fit.window_only`
    /// for records of failures only, which do not say how many lamps fail.
    /// [`Fit::life_at_maximum`] gives one of those that do. `family.unknown` or `family.parameter` for a saved fit that was
    /// changed by hand.
    pub fn life(&self) -> Result<Box<dyn Life>> {
        let open: Vec<Problem> =
            self.identified.iter().filter(|mark| mark.identified == Identified::No).map(open_parameter).collect();
        if open.is_empty() {
            self.tells_of_all_lamps()?;
            return self.life_at_maximum();
        }
        let hint =
            "what the records do settle has an interval; life_at_maximum gives one of the lives that explain them";
        Err(Error::many(Kind::Refused, open).with_hint(hint))
    }

    /// The life where the likelihood is highest. Where a parameter is marked [`Identified::No`] other lives explain the
    /// records about as well, and differ from it wherever that parameter matters.
    ///
    /// # Errors
    /// `family.unknown` or `family.parameter` for a saved fit that was changed by hand.
    pub fn life_at_maximum(&self) -> Result<Box<dyn Life>> {
        self.family()?.at(&self.coordinates)
    }

    /// The notes that say which parameters the records do not settle: they go with every figure that rests on the fit.
    pub(crate) fn open_parameters(&self) -> impl Iterator<Item = &Note> {
        self.notes.iter().filter(|note| tells_open(note))
    }

    /// Refuses figures other than those within a window for a fit that stands in a limit of its family: it has no maximum, and
    /// what holds there beyond the window is a matter of how far the search went.
    pub(crate) fn has_maximum(&self) -> Result<()> {
        let Some(parameter) = &self.limit else { return Ok(()) };
        let note = self.notes.iter().find(|note| note.slug == AT_LIMIT);
        let got = note.map_or(parameter, |note| &note.text);
        let what = "the fit has no maximum and stands in a limit of its family, which tells of the window alone";
        let problem = Problem::new("fit.in_limit", what).at(Place::input(&self.family)).got(got);
        let hint = "ask `within_window`, or the profile of the figure, or give the lamps shipped (`with_shipped`)";
        Err(Error::new(Kind::Refused, problem.expected("records that settle a highest point")).with_hint(hint))
    }

    /// Why a figure past the oldest lamp at risk has no single value to put an interval around.
    pub(super) fn open_far_out(&self) -> Error {
        let open = self.identified.iter().filter(|mark| mark.identified == Identified::No).map(open_parameter);
        let oldest = full_hours(self.facts.oldest_at_risk_hours);
        let hint = format!(
            "a figure of ages past the oldest lamp at risk ({oldest} h) rests on that parameter: {ASK_PROFILE}"
        );
        Error::many(Kind::Refused, open.collect()).with_hint(hint)
    }

    /// Refuses coordinate `i` if the records do not settle its parameter.
    pub(super) fn settled(&self, i: usize) -> Result<()> {
        let open = self.identified.get(i).filter(|mark| mark.identified == Identified::No);
        match open {
            Some(mark) => Err(Error::new(Kind::Refused, open_parameter(mark)).with_hint(ASK_PROFILE)),
            None if self.identified.is_empty() => self.tells_of_all_lamps(),
            None => Ok(()),
        }
    }

    /// Says when an age lies past the oldest lamp at risk, where the curve is the family's opinion.
    pub fn extrapolation(&self, age: f64) -> Option<Note> {
        self.facts.past(age)
    }
}

/// Four digits behind the point; an exponent where a float holds no unit.
fn four(x: f64) -> String {
    if x.abs() < 1e15 { format!("{x:.4}") } else { format!("{x:.3e}") }
}

/// What to ask instead of a standard error.
const ASK_PROFILE: &str = "ask for its profile or its bounds, which need no single value";

fn open_parameter(mark: &Mark) -> Problem {
    let what = "the records do not settle this parameter, so no single life stands for them";
    Problem::new("fit.parameter_open", what).at(Place::input(&mark.parameter)).got(mark.bounds())
}

impl fmt::Display for Fit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (lamps, failures) = (counted(self.facts.lamps, "lamp"), counted(self.facts.failures, "failure"));
        write!(f, "{} fit of {lamps}, {failures}", self.family)?;
        for (name, value) in self.parameters_at_maximum() {
            if let Some(mark) = self.mark_of(name).filter(|m| m.identified == Identified::No) {
                write!(f, "; {name} not settled, {}", mark.bounds())?;
                continue;
            }
            match self.standard_error(name) {
                Some(error) => write!(f, "; {name} {} (standard error {})", four(value), four(error))?,
                None => write!(f, "; {name} {} (held)", four(value))?,
            }
        }
        write!(f, "; log-likelihood {:.4}", self.log_likelihood)?;
        if !self.converged {
            f.write_str("; NOT CONVERGED")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "; {}", note.text))
    }
}
