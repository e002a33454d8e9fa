//! The hour limit: the age that no advice may pass.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Hours as the maker prints them, each with the same source.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedHours {
    /// Hours the warranty covers.
    #[serde(default)]
    pub warranty_hours: Option<f64>,
    /// Average life; never a limit.
    #[serde(default)]
    pub average_life_hours: Option<f64>,
    /// Limit of use.
    #[serde(default)]
    pub maximum_hours: Option<f64>,
    /// Where they are printed.
    pub source: String,
}

impl PrintedHours {
    /// The limit by the default rule: the maker's limit of use, else the warranty hours.
    ///
    /// # Errors
    /// All at once: `terms.hours_not_positive` for a printed figure that is not finite and at least 1 hour,
    /// `terms.hours_source` where the source is blank, `terms.limit_missing` where neither figure is printed.
    ///
    /// # Examples
    /// ```
    /// use relamp::terms::PrintedHours;
    /// let printed = PrintedHours {
    ///     warranty_hours: Some(2000.0),
    ///     average_life_hours: Some(2400.0),
    ///     maximum_hours: None,
    ///     source: "invented data sheet".into(),
    /// };
    /// let limit = printed.limit().unwrap();
    /// assert_eq!(limit.cap(2345.6), 2000.0);
    /// assert_eq!(limit.cap(1499.9), 1499.0);
    /// ```
    pub fn limit(&self) -> Result<HourLimit> {
        let (hours, origin) = self.check()?;
        Ok(HourLimit { hours, maker_hours: hours, origin })
    }

    /// The user's own limit in place of the maker's; the reason is recorded and lamps stay judged against both.
    ///
    /// # Errors
    /// Those of [`PrintedHours::limit`], `terms.limit_not_positive` unless `hours` is finite and at least 1,
    /// `terms.limit_reason` where the reason is blank.
    pub fn limit_because(&self, hours: f64, reason: &str) -> Result<HourLimit> {
        let (maker_hours, _) = self.check()?;
        if !sound(hours) {
            let problem = Problem::new("terms.limit_not_positive", "an hour limit must be a number of at least 1")
                .at(Place::input("hour limit").column("limit_hours"))
                .got(hours)
                .expected("finite hours of at least 1");
            return Err(Error::new(Kind::Input, problem));
        }
        HourLimit::try_from(Raw { hours, maker_hours, origin: LimitOrigin::Override { reason: reason.trim().into() } })
    }

    fn check(&self) -> Result<(f64, LimitOrigin)> {
        let mut problems = Vec::new();
        for (name, printed) in [
            ("warranty_hours", self.warranty_hours),
            ("average_life_hours", self.average_life_hours),
            ("maximum_hours", self.maximum_hours),
        ] {
            if let Some(hours) = printed.filter(|h| !sound(*h)) {
                problems.push(
                    Problem::new("terms.hours_not_positive", "printed hours must be a number of at least 1")
                        .at(Place::input("printed hours").column(name))
                        .got(hours)
                        .expected("finite hours of at least 1"),
                );
            }
        }
        if self.source.trim().is_empty() {
            problems.push(
                Problem::new("terms.hours_source", "printed hours need their source")
                    .at(Place::input("printed hours").column("source"))
                    .expected("where the hours are printed"),
            );
        }
        let found = match (self.maximum_hours, self.warranty_hours) {
            (Some(hours), _) => Some((hours, LimitOrigin::MakerMaximum)),
            (None, Some(hours)) => Some((hours, LimitOrigin::Warranty)),
            (None, None) => None,
        };
        match found {
            Some(found) if problems.is_empty() => Ok(found),
            Some(_) => Err(Error::many(Kind::Input, problems)),
            None => {
                problems.push(
                    Problem::new(
                        "terms.limit_missing",
                        "no hour limit: neither a limit of use nor warranty hours are given",
                    )
                    .at(Place::input("printed hours").column("maximum_hours"))
                    .expected("maximum_hours or warranty_hours as printed by the maker"),
                );
                Err(Error::many(Kind::Input, problems))
            }
        }
    }
}

/// Where an hour limit comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitOrigin {
    /// The maker's limit of use.
    MakerMaximum,
    /// The warranty hours, as no limit of use is printed.
    Warranty,
    /// The user's own limit with a recorded reason.
    Override {
        /// Why.
        reason: String,
    },
}

/// The age that no advice may pass. It can be made only from printed hours ([`PrintedHours::limit`]) or with a
/// recorded reason ([`PrintedHours::limit_because`]).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct HourLimit {
    hours: f64,
    maker_hours: f64,
    origin: LimitOrigin,
}

// Its constructor is its only door, for a saved form too.
impl Sound for HourLimit {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    hours: f64,
    maker_hours: f64,
    origin: LimitOrigin,
}

impl TryFrom<Raw> for HourLimit {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        let Raw { hours, maker_hours, origin } = raw;
        let mut problems = Vec::new();
        for (name, value) in [("hours", hours), ("maker_hours", maker_hours)] {
            if !sound(value) {
                problems.push(
                    Problem::new("terms.limit_not_positive", "an hour limit must be a number of at least 1")
                        .at(Place::input("hour limit").column(name))
                        .got(value)
                        .expected("finite hours of at least 1"),
                );
            }
        }
        let reasoned = match &origin {
            LimitOrigin::Override { reason } => !reason.trim().is_empty(),
            LimitOrigin::MakerMaximum | LimitOrigin::Warranty => hours == maker_hours,
        };
        if !reasoned {
            problems.push(
                Problem::new("terms.limit_reason", "an hour limit other than the maker's needs a recorded reason")
                    .at(Place::input("hour limit").column("reason"))
                    .got(hours)
                    .expected("a reason in words"),
            );
        }
        if problems.is_empty() {
            Ok(Self { hours, maker_hours, origin })
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }
}

impl HourLimit {
    /// The limit in force, hours.
    pub fn hours(&self) -> f64 {
        self.hours
    }

    /// The maker's limit, hours; lamps stay judged against it whatever limit is in force.
    pub fn maker_hours(&self) -> f64 {
        self.maker_hours
    }

    /// Where the limit in force comes from.
    pub fn origin(&self) -> &LimitOrigin {
        &self.origin
    }

    /// An age as it may be shown as advice: whole hours, rounded down, at most the limit. NaN and ages below 0 give 0.
    pub fn cap(&self, age_hours: f64) -> f64 {
        if age_hours > 0.0 { age_hours.min(self.hours).floor() } else { 0.0 }
    }

    /// Whether a lamp of this age is at or past the limit in force. An age that is not a number counts as past it.
    pub fn reached(&self, age_hours: f64) -> bool {
        age_hours.is_nan() || age_hours >= self.hours
    }

    /// Whether a lamp of this age is at or past the maker's limit. An age that is not a number counts as past it.
    pub fn maker_reached(&self, age_hours: f64) -> bool {
        age_hours.is_nan() || age_hours >= self.maker_hours
    }
}

fn sound(hours: f64) -> bool {
    hours >= 1.0 && hours.is_finite()
}
