//! How long a screen is dark for a change.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::short;
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// Longest dark time of one change, minutes: a year of them. Past it the figure is a slip or another unit.
///
/// Our choice, without a source.
pub const LONGEST_DARK_MINUTES: f64 = 525_600.0;

/// Minutes of a change that pass without the exchange itself: 10 to cool down and 10 to warm up before alignment.
///
/// Common practice, no source.
pub const LEAST_CHANGE_MINUTES: f64 = 20.0;

/// Minutes that a screen is dark for a planned change and for a change after each kind of failure.
///
/// A planned change takes 10 min to cool down, the exchange, and 10 min to warm up before alignment (common practice, no
/// source). After a failure the wait for a technician and the shows that it costs come on top.
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::terms::DarkMinutes;
/// let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)])?;
/// assert_eq!(dark.failure(Ending::Burst)?, 360.0);
/// assert_eq!(dark.failure(Ending::Dim).unwrap_err().slug(), "terms.minutes_missing");
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct DarkMinutes {
    planned: f64,
    by_ending: BTreeMap<Ending, f64>,
}

// Its constructor is its only door, for a saved form too.
impl Sound for DarkMinutes {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    planned: f64,
    by_ending: BTreeMap<Ending, f64>,
}

impl TryFrom<Raw> for DarkMinutes {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        Self::new(raw.planned, raw.by_ending)
    }
}

impl DarkMinutes {
    /// Dark minutes of a planned change and of a change after each kind of failure.
    ///
    /// # Errors
    /// All at once: `terms.minutes` for minutes that are not above 0 and at most those of a year, and for an ending that
    /// is no failure (`planned`, `running`) or given twice.
    pub fn new(planned: f64, by_ending: impl IntoIterator<Item = (Ending, f64)>) -> Result<Self> {
        let mut problems = Vec::new();
        let mut refuse = |name: &str, minutes: f64, what: &str| {
            problems.push(
                Problem::new("terms.minutes", format!("the dark minutes of {name} {what}"))
                    .at(Place::input("dark minutes").column(name))
                    .got(minutes)
                    .expected("above 0 and at most 525,600 min, once for each ending that is a failure"),
            );
        };
        let sound = |minutes: f64| minutes > 0.0 && minutes <= LONGEST_DARK_MINUTES;
        if !sound(planned) {
            refuse("planned", planned, "are no time");
        }
        let mut map = BTreeMap::new();
        for (ending, minutes) in by_ending {
            if !sound(minutes) {
                refuse(ending.as_str(), minutes, "are no time");
            }
            if matches!(ending, Ending::Planned | Ending::Running) {
                refuse(ending.as_str(), minutes, "belong to no failure");
            }
            if map.insert(ending, minutes).is_some() {
                refuse(ending.as_str(), minutes, "are given twice");
            }
        }
        if problems.is_empty() { Ok(Self { planned, by_ending: map }) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// The same with some of them multiplied: those of an ending, of a planned change ([`Ending::Planned`]), or none given,
    /// after every failure.
    ///
    /// # Errors
    /// Those of [`DarkMinutes::new`] for the minutes that come out.
    pub fn scaled(&self, ending: Option<Ending>, factor: f64) -> Result<Self> {
        let on = |e: Ending| if ending.is_none_or(|one| one == e) { factor } else { 1.0 };
        let planned = if ending == Some(Ending::Planned) { factor * self.planned } else { self.planned };
        Self::new(planned, self.by_ending.iter().map(|(e, minutes)| (*e, on(*e) * minutes)))
    }

    /// Dark minutes of a planned change.
    pub fn planned(&self) -> f64 {
        self.planned
    }

    /// Dark minutes of a change after a failure.
    ///
    /// # Errors
    /// `terms.minutes_missing` where none were given.
    pub fn failure(&self, ending: Ending) -> Result<f64> {
        self.by_ending.get(&ending).copied().ok_or_else(|| {
            let what = format!("no dark minutes are given for a change after {ending}");
            let problem = Problem::new("terms.minutes_missing", what);
            let place = Place::input("dark minutes").column(ending.as_str());
            Error::new(Kind::Input, problem.at(place).expected("minutes above 0"))
        })
    }

    /// A slug and a sentence where a planned change is said to take less than its cooling and warming do: a site may differ, but
    /// the figure may also be a slip.
    ///
    /// # Examples
    /// ```
    /// use relamp::terms::DarkMinutes;
    /// assert_eq!(DarkMinutes::new(5.0, [])?.note().map(|n| n.0), Some("terms.minutes_short"));
    /// assert_eq!(DarkMinutes::new(20.0, [])?.note(), None);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn note(&self) -> Option<(&'static str, String)> {
        (self.planned < LEAST_CHANGE_MINUTES).then(|| {
            let text = format!(
                "{} min for a planned change are less than 10 min to cool down and 10 min to warm up before alignment take, without \
                 the exchange (common practice, no source)",
                short(self.planned)
            );
            ("terms.minutes_short", text)
        })
    }

    /// Dark minutes after every kind of failure, in the order of the endings.
    pub fn by_ending(&self) -> &BTreeMap<Ending, f64> {
        &self.by_ending
    }
}
