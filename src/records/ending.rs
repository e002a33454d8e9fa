//! Why a spell or a life ended.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Why a spell or a life ended. The map from a log's own words to these belongs to the user.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Ending {
    /// The bulb burst.
    Burst,
    /// A seal failed and the gas was lost.
    Seal,
    /// The lamp no longer strikes.
    NoStrike,
    /// The arc flickers or wanders.
    Flicker,
    /// The screen can no longer be lit to its limit.
    Dim,
    /// Changed on plan though it worked.
    Planned,
    /// Taken out to burn in another screen.
    Moved,
    /// The projector was converted to another light source.
    Converted,
    /// Removed for another reason that is not the lamp's condition.
    Other,
    /// The fault was not the lamp's.
    NotLamp,
    /// No reason is known; never counted as a failure.
    Unknown,
    /// Still burning at its last reading.
    Running,
}

impl Ending {
    /// Every ending, failures first.
    pub const ALL: [Ending; 12] = [
        Ending::Burst,
        Ending::Seal,
        Ending::NoStrike,
        Ending::Flicker,
        Ending::Dim,
        Ending::Planned,
        Ending::Moved,
        Ending::Converted,
        Ending::Other,
        Ending::NotLamp,
        Ending::Unknown,
        Ending::Running,
    ];

    /// The endings that are failures of the lamp unless the caller says otherwise.
    pub const FAILURES: [Ending; 5] = [Ending::Burst, Ending::Seal, Ending::NoStrike, Ending::Flicker, Ending::Dim];

    /// Endings that say that the lamp still worked.
    pub const WORKED: [Ending; 3] = [Ending::Planned, Ending::Moved, Ending::Converted];

    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            Ending::Burst => "burst",
            Ending::Seal => "seal",
            Ending::NoStrike => "no_strike",
            Ending::Flicker => "flicker",
            Ending::Dim => "dim",
            Ending::Planned => "planned",
            Ending::Moved => "moved",
            Ending::Converted => "converted",
            Ending::Other => "other",
            Ending::NotLamp => "not_lamp",
            Ending::Unknown => "unknown",
            Ending::Running => "running",
        }
    }

    /// The ending of a word as written by [`Ending::as_str`].
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|e| e.as_str() == word)
    }

    /// The place of this ending in [`Ending::ALL`], used as its code in a tally.
    pub fn code(self) -> u16 {
        self as u16
    }

    /// The ending of a code.
    pub fn from_code(code: u16) -> Option<Self> {
        Self::ALL.get(usize::from(code)).copied()
    }

    /// Whether this ending is in [`Ending::FAILURES`].
    pub fn is_failure(self) -> bool {
        Self::FAILURES.contains(&self)
    }
}

impl fmt::Display for Ending {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
