//! Hazards and limits of use that go beside every figure, and what the figures take for granted.

use crate::base::figure::counted;

/// The cautions of every study, in the order a reader needs them.
///
/// Common practice of the trade and makers' safety sheets; no single source.
pub fn cautions() -> Vec<String> {
    [
        "The limits of the lamp and projector makers, local codes and the judgement of a licensed technician prevail over any age computed here.",
        "A xenon short-arc lamp is under high pressure even when it is cold, and a used lamp is too: it can burst in the hand at any age.",
        "A burning lamp gives strong UV light and heat and makes ozone: never look at the arc, and keep the exhaust to the outdoors working.",
        "Let the lamp cool with the fans running before the lamphouse is opened; wear visor, jacket and gauntlets, and keep every lamp, new or used, in its case until it is fitted and as soon as it is out.",
        "Repeated strikes, slow brightening, flicker that grows or a deformed bulb call for a change at any age, whatever the tables say.",
        "Ages hold for the lamp class and the way of running it that these records show; they do not transfer to another lamp type, another current or another lamphouse.",
        "A cheapest age is a figure of money; it is never leave to pass a limit. A lamp at its limit without a spare means a dark screen, never more hours.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// How the sentence begins that says the programme hours.
pub(super) const PROGRAMME_HOURS: &str = "Hours since the last reading are the programme hours declared (";

/// What the figures of every study take for granted; `money_back`: whether the costs of a class count what its warranty pays
/// back; `season` says how programme hours run over the year.
pub fn assumptions(
    draws_count: u64,
    failure_endings: &str,
    hours_per_week: f64,
    money_back: bool,
    season: Option<String>,
) -> Vec<String> {
    let mut all = vec![
        format!("These endings count as failures of the lamp: {failure_endings}. Every other ending, and a running lamp at its last reading, is right-censored; a blank or unknown reason is never a failure."),
        "A lamp taken out on plan, moved or converted is taken to have been as likely to fail later as a lamp of its age that stayed in; where lamps are pulled because they look bad, reliability is overstated.".to_owned(),
        "The lamps of one class are taken to be alike unless the fit check says otherwise.".to_owned(),
        "Causes act side by side and independently of each other, which these records can neither show nor refute; each ending with at least five failures has a fit of its own, rarer ones share one.".to_owned(),
        if money_back {
            "Costs, prices and lead times are those declared, without a range, less what a warranty pays back where the page of a class says so.".to_owned()
        } else {
            "Costs, prices and lead times are those declared, without a range.".to_owned()
        },
        format!("{PROGRAMME_HOURS}{hours_per_week} h a week unless a site or screen has its own)."),
        format!("Intervals of derived figures come from {} that reweight whole lives, all causes together; lamps are independent only within a draw.", counted(draws_count, "draw")),
        "A replacement lamp is new; a lamp that is changed starts again at 0 h.".to_owned(),
    ];
    all.extend(season);
    all
}
