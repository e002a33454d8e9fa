//! How far suspect removals must depend on condition before the advice changes.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, Band, PlannedAge, planned_age};
use crate::base::error::Result;
use crate::base::figure::{full_hours, short};
use crate::base::sound::{Checks, Sound};
use crate::fit::{CauseLife, RemovalDial, World};
use crate::terms::{Costs, HourLimit};

/// Width of dependence to which a turn between two fitted ones is narrowed.
const NARROW: f64 = 1e-4;

/// The first dependence at which the planned age leaves the ages near the best of the ordinary fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DialTurn {
    /// The dependence, Kendall's tau; none where the advice stays up to the largest one fitted. 0 where the one life that the
    /// dial takes for all failures leaves them already.
    pub tau: Option<f64>,
    /// Largest dependence that was fitted.
    pub most_tau: f64,
    /// The planned age there, or at the largest dependence.
    pub age_hours: f64,
    /// The planned age of the dial without dependence, one life for all failures.
    pub independent_hours: f64,
    /// The planned age of the ordinary fit.
    pub ordinary_hours: f64,
    /// The ages near the best of the ordinary fit.
    pub near_best: Vec<Band>,
    /// How near, percent.
    pub near_percent: f64,
    /// The same in words.
    pub sentence: String,
}

impl Sound for DialTurn {
    fn check(&self, c: &mut Checks) {
        c.share("most_tau", self.most_tau);
        c.between("tau", self.tau, 0.0, self.most_tau);
        for (field, age) in [
            ("age_hours", self.age_hours),
            ("independent_hours", self.independent_hours),
            ("ordinary_hours", self.ordinary_hours),
        ] {
            c.not_negative(field, age);
        }
        c.not_negative("near_percent", self.near_percent);
        let inside = near(&self.near_best, self.age_hours);
        c.need(
            "age_hours",
            inside == self.tau.is_none(),
            self.age_hours,
            "near the best where the advice stays, and only there",
        );
        c.words("sentence", &self.sentence);
    }
}

/// Whether an advice lies among the ages near the best, to the hour that it is rounded down to.
fn near(bands: &[Band], age: f64) -> bool {
    bands.iter().any(|b| age >= b.from_hours.floor() && age <= b.to_hours)
}

/// The first dependence of suspect removals on failure at which the planned age leaves the ages near the best of the ordinary
/// fit: up to it the question of dependence changes nothing that matters.
///
/// Between two fitted dependences the life is taken between theirs, its unconstrained parameters even in the dependence, and the
/// turn is bracketed. The dial takes one life for all failures; where the ordinary fit has one for each cause, the two may differ
/// without any dependence, which the sentence tells.
///
/// # Arguments
/// `ordinary`: the planned age of the ordinary fit, such as of a world by cause; none for that of the dial without dependence.
///
/// # Errors
/// Those of [`planned_age`].
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::empirical::RemovalOptions;
/// use relamp::family::family;
/// use relamp::fit::{DialOptions, removal_dial};
/// use relamp::lives::{Rows, Tally};
/// use relamp::policy::{AgeOptions, dial_turn};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let low: Vec<f64> = (1..=40).map(|i| 200.0 + 60.0 * f64::from(i)).collect();
/// let high = low.iter().enumerate().map(|(i, a)| if i % 2 == 0 { *a } else { f64::INFINITY }).collect();
/// let ending = (0..40).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low, high, ending: Some(ending), ..Rows::default() })?;
/// let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
/// let options = DialOptions { removal, taus: vec![0.0, 0.3, 0.6, 0.8], replicates: 0, ..DialOptions::default() };
/// let dial = removal_dial(family("weibull")?, &tally, &options, &Run::new())?;
/// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?;
/// let printed = PrintedHours { maximum_hours: Some(4000.0), source: "invented sheet".into(), ..PrintedHours::default() };
/// let turn = dial_turn(&dial, &costs, &printed.limit()?, &AgeOptions::default(), None)?;
/// assert!(turn.tau.is_some_and(|tau| tau > 0.0 && tau < 0.8));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn dial_turn(
    dial: &RemovalDial,
    costs: &Costs,
    limit: &HourLimit,
    options: &AgeOptions,
    ordinary: Option<&PlannedAge>,
) -> Result<DialTurn> {
    let mut options = options.clone();
    options.oldest_at_risk_hours = options.oldest_at_risk_hours.or(Some(dial.facts().oldest_at_risk_hours));
    let family = dial.family()?;
    let at = |coordinates: &[f64]| {
        let cause = CauseLife { endings: dial.endings().to_vec(), life: family.at(coordinates)? };
        planned_age(&World { causes: vec![cause], costs: costs.clone() }, limit, &options)
    };
    let points = dial.points();
    let first: &[f64] = points.first().map_or(&[], |p| p.coordinates.as_slice());
    let independent = at(first)?;
    let ordinary = ordinary.unwrap_or(&independent);
    let inside = |age: f64| near(&ordinary.near_best, age);
    let mut turn = None;
    let mut age_hours = independent.age_hours;
    if !inside(age_hours) {
        turn = Some(0.0);
    }
    for pair in points.windows(2) {
        let ([from, to], None) = (pair, turn) else { continue };
        let age = at(&to.coordinates)?.age_hours;
        if inside(age) {
            age_hours = age;
            continue;
        }
        let (mut low, mut high, mut there) = (0.0, 1.0, age);
        while (high - low) * (to.tau - from.tau) > NARROW {
            let middle = 0.5 * (low + high);
            let mixed: Vec<f64> =
                from.coordinates.iter().zip(&to.coordinates).map(|(a, b)| a + middle * (b - a)).collect();
            let age = at(&mixed)?.age_hours;
            if inside(age) {
                low = middle;
            } else {
                (high, there) = (middle, age);
            }
        }
        turn = Some(from.tau + high * (to.tau - from.tau));
        age_hours = there;
    }
    let most_tau = points.last().map_or(0.0, |p| p.tau);
    let sentence = sentence(turn, most_tau, age_hours, &independent, ordinary);
    Ok(DialTurn {
        tau: turn,
        most_tau,
        age_hours,
        independent_hours: independent.age_hours,
        ordinary_hours: ordinary.age_hours,
        near_best: ordinary.near_best.clone(),
        near_percent: ordinary.near_percent,
        sentence,
    })
}

fn sentence(turn: Option<f64>, most_tau: f64, age: f64, independent: &PlannedAge, ordinary: &PlannedAge) -> String {
    let bands: Vec<String> = ordinary.near_best.iter().map(Band::words).collect();
    let within = format!("{} (within {} % of the least cost)", bands.join("; "), short(ordinary.near_percent));
    let one = if independent.age_hours == ordinary.age_hours {
        String::new()
    } else {
        format!(
            "; one life for all failures gives {} h without dependence, the ordinary fit {} h",
            full_hours(independent.age_hours),
            full_hours(ordinary.age_hours)
        )
    };
    let told = match turn {
        None => format!("up to a dependence of {most_tau} (Kendall's tau) the advice stays among {within}"),
        Some(0.0) => format!(
            "the one life for all failures gives {} h, which is not among {within}, even without dependence",
            full_hours(age)
        ),
        Some(tau) => format!(
            "from a dependence of {} (Kendall's tau) on the advice changes: {} h there, no longer among {within}",
            short(tau),
            full_hours(age)
        ),
    };
    format!("{told}{one}")
}
