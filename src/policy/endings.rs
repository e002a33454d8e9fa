//! How lamps end, by planned age.

use serde::{Deserialize, Serialize};

use super::cost::within_limit;
use super::curve::WorldCurve;
use crate::base::error::Result;
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::records::Ending;
use crate::terms::HourLimit;

/// How 1,000 lamps fitted new end if they are changed at an age or at failure, whichever comes first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndingsAt {
    /// Planned age, hours.
    pub age_hours: f64,
    /// Of 1,000 lamps, those changed on plan.
    pub planned_per_1000: f64,
    /// Of 1,000 lamps, those that end in each way, in the order of the endings.
    pub by_ending: Vec<EndingShare>,
}

/// One ending among 1,000 lamps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndingShare {
    /// The ending.
    pub ending: Ending,
    /// Of 1,000 lamps fitted new.
    pub per_1000_lamps: f64,
    /// In 1,000 lamp hours.
    pub per_1000_hours: f64,
}

impl Sound for EndingsAt {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.not_negative("planned_per_1000", self.planned_per_1000);
        c.once("by_ending", self.by_ending.iter().map(|e| e.ending));
        for (i, part) in self.by_ending.iter().enumerate() {
            c.not_negative(&format!("by_ending[{i}].per_1000_lamps"), part.per_1000_lamps);
            c.not_negative(&format!("by_ending[{i}].per_1000_hours"), part.per_1000_hours);
        }
        let failed: f64 = self.by_ending.iter().map(|e| e.per_1000_lamps).sum();
        c.equal("planned_per_1000", 1000.0 + self.planned_per_1000, 2000.0 - failed);
    }
}

/// How 1,000 lamps end at each of the given planned ages, by ending; the costs play no part.
///
/// # Formula
/// ```text
/// planned 1000 R(T);   ending e: 1000 sum over causes of share of e times F_j(T), per lamp hour the same over M(T)
/// ```
/// Letters as for [`super::cost_curve`].
///
/// # Errors
/// `policy.age_past_limit`, one problem for each age above the limit; `policy.age` for an age that is not above 0; those of
/// [`WorldCurve::new`].
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::endings_by_age;
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 1000.0 }) }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let at = endings_by_age(&world, &[500.0], &printed.limit()?)?.remove(0);
/// assert!((at.planned_per_1000 - 1000.0 * (-0.5_f64).exp()).abs() < 1e-9);
/// assert!((at.by_ending[0].per_1000_hours - 1.0).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn endings_by_age(world: &World, ages_hours: &[f64], limit: &HourLimit) -> Result<Vec<EndingsAt>> {
    within_limit(ages_hours, limit)?;
    let mut curve = WorldCurve::new(world)?;
    let mut sorted = ages_hours.to_vec();
    sorted.sort_by(f64::total_cmp);
    curve.remember(&sorted)?;
    let at = |&age_hours: &f64| {
        let upto = curve.up_to(age_hours)?;
        let mut by_ending: Vec<EndingShare> = Vec::new();
        for (cause, failed) in world.causes.iter().zip(&upto.incidence) {
            let whole: f64 = cause.endings.iter().map(|e| e.1).sum();
            for (ending, share) in cause.endings.iter().filter(|e| e.1 > 0.0) {
                let lamps = 1000.0 * failed * share / whole;
                let hours = lamps / upto.exposure_hours;
                match by_ending.iter_mut().find(|e| e.ending == *ending) {
                    Some(part) => {
                        part.per_1000_lamps += lamps;
                        part.per_1000_hours += hours;
                    }
                    None => {
                        by_ending.push(EndingShare { ending: *ending, per_1000_lamps: lamps, per_1000_hours: hours });
                    }
                }
            }
        }
        by_ending.sort_by_key(|e| e.ending);
        Ok(EndingsAt { age_hours, planned_per_1000: 1000.0 * upto.reliability, by_ending })
    };
    ages_hours.iter().map(at).collect()
}
