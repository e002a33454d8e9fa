//! What can be asked of a fit with its interval, and intervals from the curvature at the maximum.

use serde::{Deserialize, Serialize};

use super::coverage;
use super::failure_free::LOCATION;
use super::model::{Facts, Fit, Note, failure_notes_of, tells_open};
use super::profile_corrected::RatioMean;
use super::target::{Function, Target};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{full_hours, short};
use crate::base::math::special::normal_quantile;
use crate::base::sound::{Checks, Sound};
use crate::family::Family;

/// What is asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Quantity {
    /// A parameter by name, such as `shape`.
    Parameter(String),
    /// The age by which a share has failed, hours.
    Quantile(f64),
    /// The age by which so many percent have failed, hours.
    BLife(f64),
    /// The probability to pass an age, hours.
    Reliability(f64),
    /// Failures per hour at an age, hours, among lamps that reached it.
    Hazard(f64),
    /// The mean age at failure, hours.
    Mean,
    /// The probability that a lamp of an age fails within further hours.
    FailureWithin {
        /// Age that the lamp has reached.
        age_hours: f64,
        /// Hours ahead.
        hours: f64,
    },
    /// A function of the caller's own, by the name it was given: see [`Function`].
    Function(String),
}

/// Share of lamps that outlive the oldest lamp at risk from which a mean rests on ages that no lamp was seen at. Our choice,
/// without a source.
const STILL_BURNING: f64 = 0.1;

impl Quantity {
    /// The age that a figure speaks of; none for one that speaks of all ages.
    pub(super) fn age(&self, estimate: f64) -> Option<f64> {
        let age = match self {
            Self::Parameter(_) | Self::Function(_) => None,
            Self::Quantile(_) | Self::BLife(_) | Self::Mean => Some(estimate),
            Self::Reliability(age) | Self::Hazard(age) => Some(*age),
            Self::FailureWithin { age_hours, hours } => Some(age_hours + hours),
        };
        age.filter(|age| age.is_finite())
    }
}

/// Which ends are wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sides {
    /// Both, the level between them.
    #[default]
    Both,
    /// A lower bound at the level.
    Lower,
    /// An upper bound at the level.
    Upper,
}

/// How an interval was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum IntervalMethod {
    /// Curvature at the maximum, on the unconstrained scale.
    Wald,
    /// Every value whose best likelihood is close enough to the maximum.
    ProfileLikelihood,
    /// The same, the likelihood ratio divided by its mean among simulated samples.
    ProfileLikelihoodCorrected,
    /// Percentiles of refits with random weights.
    WeightedBootstrap,
    /// Percentiles of refits with random weights, moved by the share of them below the estimate.
    WeightedBootstrapBiasCorrected,
    /// Quantiles of the posterior under a stated prior.
    Posterior,
}

/// An interval with its level and method. An end that is not there is open: no bound follows from the
/// data, or it was not asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Interval {
    /// What was asked.
    pub quantity: Quantity,
    /// At the maximum of the likelihood; for a posterior its median. None where the records do not settle the quantity, so
    /// that no single value stands for it: the ends are then all there is.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "crate::base::saved::infinite_if_there")]
    pub estimate: Option<f64>,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Confidence level, such as 0.95.
    pub level: f64,
    /// Which ends were asked for.
    pub sides: Sides,
    /// How it was made.
    pub method: IntervalMethod,
    /// What a reader must know beside it.
    pub notes: Vec<Note>,
    /// What the likelihood ratio was divided by; none but for a corrected profile.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ratio: Option<RatioMean>,
}

impl Sound for Interval {
    fn check(&self, c: &mut Checks) {
        match &self.quantity {
            Quantity::Parameter(_) | Quantity::Mean | Quantity::Function(_) => {}
            Quantity::Quantile(p) => c.level("quantity.quantile", *p),
            Quantity::BLife(x) => c.level("quantity.b_life", x / 100.0),
            Quantity::Reliability(age) => c.not_negative("quantity.reliability", *age),
            Quantity::Hazard(age) => c.not_negative("quantity.hazard", *age),
            Quantity::FailureWithin { age_hours, hours } => {
                c.not_negative("quantity.failure_within.age_hours", *age_hours);
                c.not_negative("quantity.failure_within.hours", *hours);
            }
        }
        c.level("level", self.level);
        c.need("low", self.sides != Sides::Upper || self.low.is_none(), "there", "none, for an upper bound");
        c.need("high", self.sides != Sides::Lower || self.high.is_none(), "there", "none, for a lower bound");
        c.ends("high", self.low, self.high);
        let corrected = self.method == IntervalMethod::ProfileLikelihoodCorrected;
        c.there("ratio", self.ratio.is_some(), corrected, "there for a corrected profile only");
        if let Some(ratio) = &self.ratio {
            c.need("sides", self.sides == Sides::Both, "one", "both, for a corrected profile");
            c.part("ratio", ratio);
        }
        if self.estimate.is_none() {
            let by_profile_or_draws = !matches!(self.method, IntervalMethod::Wald | IntervalMethod::Posterior);
            c.need("estimate", by_profile_or_draws, "none", "a number, for a method that needs one");
            let told = self.notes.iter().any(tells_open);
            c.need("notes", told, "no such note", "the note that says why no single value stands for the quantity");
        }
        let refits =
            matches!(self.method, IntervalMethod::WeightedBootstrap | IntervalMethod::WeightedBootstrapBiasCorrected);
        // Percentiles of refits need not hold the estimate, and a bound below level one half lies past it.
        if !refits && (self.sides == Sides::Both || self.level >= 0.5) {
            c.between("estimate", self.estimate, self.low, self.high);
        }
    }
}

/// Says that an interval ends where the range of its parameter ends.
pub(super) fn boundary_note(family: &dyn Family, i: usize, end: f64) -> Note {
    let name = family.parameter_names().get(i).copied().unwrap_or("parameter");
    let text = format!(
        "{name} cannot lie below {end}: the interval starts there and is bounded by the records on one side only"
    );
    Note::new("fit.one_sided", text)
}

/// Normal quantile that belongs to a level.
pub(super) fn critical(level: f64, sides: Sides) -> Result<f64> {
    if !(level > 0.0 && level < 1.0) {
        return Err(Error::new(
            Kind::Input,
            Problem::new("fit.level", "not a confidence level")
                .at(Place::input("level"))
                .got(level)
                .expected("above 0 and below 1, such as 0.95"),
        ));
    }
    Ok(-normal_quantile(if sides == Sides::Both { 0.5 * (1.0 - level) } else { 1.0 - level }))
}

/// ln L on the border of a joint region of two parameters, less its maximum: minus half the chi-square quantile with
/// two degrees of freedom, which is ln(1 - level).
pub(super) fn critical_pair(level: f64) -> Result<f64> {
    critical(level, Sides::Both)?;
    Ok((-level).ln_1p())
}

/// An age by which more are to have failed than ever fail, or one that is too large to be a number.
fn never_reached(failed: f64, never: f64) -> Error {
    let percent = |share: f64| format!("{} %", short(100.0 * share));
    if !(never > 0.0) {
        let what = format!("the age by which {} have failed is too large to be a number", percent(failed));
        let problem = Problem::new("fit.no_spread", what).got(f64::INFINITY);
        let hint = "ask for the reliability at an age, which every life has, or for a smaller share";
        return Error::new(Kind::Refused, problem.expected("a share failed by an age that is a number"))
            .with_hint(hint);
    }
    let what = format!(
        "only {} of lamps ever fail by the fitted life, so there is no age by which {} have failed",
        percent(1.0 - never),
        percent(failed)
    );
    let problem = Problem::new("fit.no_spread", what).got(f64::INFINITY);
    Error::new(Kind::Refused, problem.expected(format!("a share failed below {}", percent(1.0 - never)))).with_hint(
        "ask for the reliability at an age, or take the bootstrap, whose interval of this age has a low end and stays open above",
    )
}

impl Interval {
    /// Adds what was measured of intervals of this kind.
    pub(super) fn judged(mut self, family: &str, facts: &Facts) -> Self {
        self.notes.extend(coverage::note(family, facts, &self));
        if let (Some(low), Some(high)) = (self.low, self.high)
            && low == high
            && (low == 0.0 || low == 1.0)
        {
            let text = format!(
                "the figure and both its ends lie so near {low} that numbers cannot tell them apart: the interval has a \
                 width, but none that can be written"
            );
            self.notes.push(Note::new("fit.rounded", text));
        }
        self
    }
}

impl Fit {
    /// Standard error of a target on its working scale, and the target's value.
    pub(super) fn spread(&self, target: Target) -> Result<(f64, f64)> {
        let family = self.family()?;
        let value = target.value(family, &self.coordinates)?;
        if matches!(target, Target::LnMean) && value == f64::INFINITY {
            let what = "the mean of the fitted life is infinite, so there is no interval for it";
            let problem = Problem::new("fit.no_spread", what).at(Place::input("mean")).got(value);
            return Err(Error::new(Kind::Refused, problem.expected("a finite mean")).with_hint(
                "ask for the median (a quantile of 0.5), or for the reliability at an age, which every life has",
            ));
        }
        let gradient = target.gradient(family, &self.coordinates, value)?;
        let mut variance = 0.0;
        for (i, a) in gradient.iter().enumerate() {
            for (j, b) in gradient.iter().enumerate() {
                variance += a * b * self.coordinate_covariance(i, j).unwrap_or(f64::NAN);
            }
        }
        let error = variance.sqrt();
        if value.is_finite() && error.is_finite() {
            return Ok((value, error));
        }
        if let Target::LnAge(ln_r) = target
            && value == f64::INFINITY
        {
            return Err(never_reached(-ln_r.exp_m1(), self.life_at_maximum()?.never_fails()));
        }
        Err(Error::new(
            Kind::Refused,
            Problem::new("fit.no_spread", "the fit has no finite spread for this quantity").got(value),
        ))
    }

    /// Says when a good part of a mean is made of ages past the oldest lamp at risk.
    fn mean_past(&self) -> Option<Note> {
        let oldest = self.facts.oldest_at_risk_hours;
        let left = self.life_at_maximum().ok()?.reliability(oldest);
        (self.facts.censored > 0 && left >= STILL_BURNING).then(|| {
            let text = format!(
                "by the fit {:.0} % of lamps outlive the oldest lamp at risk ({} h): what they add to the mean is the \
                 family's opinion",
                100.0 * left,
                full_hours(oldest)
            );
            Note::new("fit.extrapolated", text)
        })
    }

    /// Notes that belong on an interval.
    pub(super) fn interval_notes(&self, quantity: &Quantity, estimate: f64) -> Vec<Note> {
        let mut notes = failure_notes_of(&self.family, self.facts.failures);
        notes.extend(quantity.age(estimate).and_then(|age| self.extrapolation(age)));
        if *quantity == Quantity::Mean && estimate <= self.facts.oldest_at_risk_hours {
            notes.extend(self.mean_past());
        }
        notes.extend(self.open_parameters().cloned());
        notes
    }

    /// An interval from the curvature at the maximum: estimate plus and minus a normal quantile times the standard error,
    /// on the unconstrained scale (ln of parameters, ages, hazard and mean, ln(-ln R) for a reliability or a chance to
    /// fail), mapped back.
    ///
    /// # Errors
    /// `fit.level`, `fit.parameter_unknown`, `fit.share`, `fit.age` for a bad question; `fit.no_spread` where the curve is
    /// flat; `fit.parameter_open` for a parameter that the records do not settle, and for a figure of ages past the oldest
    /// lamp at risk where there is one; `fit.window_only` for a figure
    /// of all lamps from records of failures only that leave a parameter open; `fit.in_limit` for a fit that stands in a
    /// limit of its family.
    pub fn wald(&self, quantity: &Quantity, level: f64, sides: Sides) -> Result<Interval> {
        if let Quantity::Parameter(name) = quantity {
            // What the records say of it comes first: the bound stands in the refusal.
            let place = self.family()?.parameter_names().iter().position(|n| n == name);
            place.map_or(Ok(()), |i| self.settled(i))?;
        }
        self.has_maximum()?;
        let target = Target::new(self.family()?, quantity)?;
        if !matches!(target, Target::Coordinate(_)) {
            self.tells_of_all_lamps()?;
        }
        self.wald_at(target, quantity.clone(), level, sides)
    }

    /// The same for a function of the caller's own, by the delta method: slopes over the coordinates are taken
    /// numerically.
    ///
    /// # Errors
    /// Those of [`Fit::wald`], and those of the function.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::{Life, family};
    /// use relamp::fit::{FitOptions, Function, Quantity, Scale, Sides, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let fit = fit(family("weibull")?, &tally, &FitOptions::default(), &Run::new())?;
    /// let median = |life: &dyn Life, _: &[f64]| life.quantile(0.5);
    /// let asked = Function { name: "median".into(), of: &median, scale: Scale::Positive };
    /// let own = fit.wald_of(&asked, 0.95, Sides::Both)?;
    /// let ours = fit.wald(&Quantity::Quantile(0.5), 0.95, Sides::Both)?;
    /// assert!((own.low.unwrap() / ours.low.unwrap() - 1.0).abs() < 1e-9);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn wald_of(&self, asked: &Function, level: f64, sides: Sides) -> Result<Interval> {
        self.has_maximum()?;
        self.tells_of_all_lamps()?;
        self.wald_within(asked, level, sides)
    }

    /// The same for what holds in a limit of the family too: figures within a window.
    pub(super) fn wald_within(&self, asked: &Function, level: f64, sides: Sides) -> Result<Interval> {
        self.wald_at(Target::function(asked), Quantity::Function(asked.name.clone()), level, sides)
    }

    fn wald_at(&self, target: Target, quantity: Quantity, level: f64, sides: Sides) -> Result<Interval> {
        let family = self.family()?;
        let z = critical(level, sides)?;
        if let Target::Coordinate(i) = target {
            self.settled(i)?;
        }
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let (value, error) = self.spread(target)?;
        if self.rests_on_open(&quantity, back(value)) {
            return Err(self.open_far_out());
        }
        let mut floor = f64::NEG_INFINITY;
        if let Target::Coordinate(i) = target {
            floor = family.floor(i);
            if !(error > 0.0) {
                let problem = Problem::new(
                    "fit.no_spread",
                    "the parameter is held where it stands: the curve has no curvature there",
                );
                let hint = "ask for the interval by profile likelihood, which needs none";
                return Err(Error::new(Kind::Refused, problem.at(Place::input("quantity")).got(value)).with_hint(hint));
            }
        }
        let (mut low, mut high) = (back((value - z * error).max(floor)), back(value + z * error));
        if target.falls() {
            std::mem::swap(&mut low, &mut high);
        }
        let estimate = back(value);
        let mut notes = self.interval_notes(&quantity, estimate);
        let ceiling = self.first_failure.filter(|_| matches!(target, Target::Coordinate(LOCATION)));
        if let Some(first) = ceiling.filter(|first| high > *first) {
            high = first;
            if sides != Sides::Lower {
                let text = format!(
                    "a failure-free time cannot lie past the first failure at {first} h: the interval ends there and is \
                     bounded by the curvature on one side only"
                );
                notes.push(Note::new("fit.one_sided", text));
            }
        }
        if let (Target::Coordinate(i), true) = (target, value - z * error <= floor && sides != Sides::Upper) {
            notes.push(boundary_note(family, i, low));
        }
        Ok(Interval {
            quantity,
            estimate: Some(estimate),
            low: (sides != Sides::Upper && low.is_finite()).then_some(low),
            high: (sides != Sides::Lower && high.is_finite()).then_some(high),
            level,
            sides,
            method: IntervalMethod::Wald,
            notes,
            ratio: None,
        }
        .judged(&self.family, &self.facts))
    }
}
