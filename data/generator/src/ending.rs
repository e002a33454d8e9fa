//! Why a lamp came out.

/// Why a lamp came out of its screen, or that it still burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ending {
    /// The bulb burst.
    Burst,
    /// A seal failed.
    Seal,
    /// It no longer strikes.
    NoStrike,
    /// The arc flickers.
    Flicker,
    /// Too dark.
    Dim,
    /// Changed on plan.
    Planned,
    /// Moved to another screen.
    Moved,
    /// The projector was converted.
    Converted,
    /// Another reason, such as a lamp dropped while cleaning.
    Other,
    /// The fault was not the lamp's.
    NotLamp,
    /// Still burning at its last reading.
    Running,
}

impl Ending {
    /// Every ending of a spell that has a reason in the logs.
    pub const WITH_REASON: [Ending; 10] = [
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
    ];

    /// The word of the study file and the truth tables.
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
            Ending::Running => "running",
        }
    }

    /// Whether the lamp itself failed.
    pub fn is_failure(self) -> bool {
        matches!(self, Ending::Burst | Ending::Seal | Ending::NoStrike | Ending::Flicker | Ending::Dim)
    }

    /// Whether it shows only when someone looks: the arc wanders or the screen darkens while the show goes on.
    pub fn is_gradual(self) -> bool {
        matches!(self, Ending::Flicker | Ending::Dim)
    }
}
