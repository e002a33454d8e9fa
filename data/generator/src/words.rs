//! Free-text reasons in two languages, as people type them.

use crate::Ending;

/// Language of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Language {
    /// German.
    German,
    /// English.
    English,
}

/// Words that the reason map of the study leaves out on purpose.
pub const UNMAPPED: [&str; 4] = ["siehe Bericht", "changed", "n/a", "alt"];

/// Everything people of a log type for an ending.
pub fn reasons(ending: Ending, language: Language) -> &'static [&'static str] {
    use Ending::{Burst, Converted, Dim, Flicker, Moved, NoStrike, NotLamp, Other, Planned, Running, Seal};
    use Language::{English, German};
    match (ending, language) {
        (Burst, German) => &["geplatzt", "Kolben geplatzt", "Geplatzt in Vorstellung"],
        (Burst, English) => &["burst", "Burst in show", "bulb  burst"],
        (Seal, German) => &["undicht", "Gasverlust", "Dichtung defekt"],
        (Seal, English) => &["seal failure", "lost gas", "Seal leak"],
        (NoStrike, German) => &["zündet nicht", "Zündet nicht mehr", "keine Zündung"],
        (NoStrike, English) => &["will not strike", "No strike", "no ignition"],
        (Flicker, German) => &["flackert", "Lichtbogen unruhig", "Flackern"],
        (Flicker, English) => &["flicker", "Flickering", "arc wander"],
        (Dim, German) => &["zu dunkel", "Kolben geschwärzt", "Licht zu schwach"],
        (Dim, English) => &["dim", "Too dark", "blackened", "light below limit"],
        (Planned, German) => &["Routinewechsel", "Laufzeit erreicht", "planmäßig", "planmäßiger Wechsel "],
        (Planned, English) => &["planned", "Planned change", "end of hours", "PLANNED"],
        (Moved, German) => &["umgesetzt", "in anderen Saal"],
        (Moved, English) => &["moved", "to other screen"],
        (Converted, German) => &["Umbau auf Laser"],
        (Converted, English) => &["converted to laser"],
        (Other, German) => &["heruntergefallen", "beim Reinigen beschädigt"],
        (Other, English) => &["dropped", "damaged while cleaning"],
        (NotLamp, German) => &["Zündgerät defekt", "Netzteil defekt"],
        (NotLamp, English) => &["ignitor fault", "power supply fault"],
        (Running, _) => &[""],
    }
}

/// A reason as the study's map words it: trimmed, white space collapsed, lower case.
pub fn plain(reason: &str) -> String {
    reason.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
