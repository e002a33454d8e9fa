//! Good used lamps as emergency spares: which may serve, and whether they last until the next delivery.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::fit::{Draws, World, over_draws};
use crate::policy::WorldCurve;
use crate::records::Ending;
use crate::terms::HourLimit;

/// A lamp that was taken out and still lies there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedLamp {
    /// Hours it has burned; none where they are not known.
    pub age_hours: Option<f64>,
    /// Why it was taken out.
    pub ending: Ending,
}

/// Whether a used lamp may serve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum UsedVerdict {
    /// It may burn until the next delivery.
    Serves,
    /// It may burn, but reaches the limit before the delivery.
    ReachesLimit,
    /// It has reached the limit.
    AtLimit,
    /// It was not taken out on plan, to be moved or for a conversion.
    Ending,
    /// Its hours are not known.
    AgeUnknown,
}

/// One used lamp as an emergency spare.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedSpare {
    /// The lamp.
    pub lamp: UsedLamp,
    /// Whether it may serve.
    pub verdict: UsedVerdict,
    /// Hours left below the limit; 0 where it may not serve.
    pub hours_left: f64,
    /// Chance that it neither fails nor reaches the limit before the next delivery; 0 where it may not serve.
    pub lasts: f64,
    /// Mean hours it burns before it fails, reaches the limit or the delivery comes.
    pub mean_hours: f64,
}

impl Sound for UsedSpare {
    fn check(&self, c: &mut Checks) {
        c.not_negative("lamp.age_hours", self.lamp.age_hours);
        c.not_negative("hours_left", self.hours_left);
        c.share("lasts", self.lasts);
        c.between("mean_hours", self.mean_hours, 0.0, self.hours_left);
        let serves = self.verdict == UsedVerdict::Serves;
        c.need("lasts", serves || self.lasts == 0.0, self.lasts, "0 for a lamp that does not last");
        let ending = self.verdict == UsedVerdict::Ending;
        let good = Ending::WORKED.contains(&self.lamp.ending);
        c.need("verdict", ending != good, as_saved(&self.verdict), "what the ending says");
    }
}

/// Used lamps as emergency spares, in the order given.
///
/// # Formula
/// ```text
/// lasts = R(a + u) / R(a) where a + u <= limit, else 0;   mean hours = integral of R(a + x) / R(a) over (0, min(u, limit - a))
/// ```
/// a: hours burned; u: hours until the next delivery. A lamp keeps its age. It may serve only if it was taken out on plan,
/// to be moved or for a conversion, with hours left below the limit.
///
/// # Errors
/// `stock.used_age` for ages that are negative or not finite, all at once; `stock.delivery_hours` unless the hours until
/// the delivery are finite and not negative; those of [`WorldCurve::new`].
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::stock::{UsedLamp, UsedVerdict, used_spares};
/// use relamp::terms::{Costs, PrintedHours};
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 1000.0 }) }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let lamp = |age, ending| UsedLamp { age_hours: Some(age), ending };
/// let lamps = [lamp(900.0, Ending::Converted), lamp(1950.0, Ending::Planned), lamp(900.0, Ending::Flicker)];
/// let spares = used_spares(&lamps, &world, &printed.limit()?, 100.0)?;
/// assert!((spares[0].lasts - (-0.1_f64).exp()).abs() < 1e-12);
/// assert_eq!((spares[1].verdict, spares[2].verdict), (UsedVerdict::ReachesLimit, UsedVerdict::Ending));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn used_spares(lamps: &[UsedLamp], world: &World, limit: &HourLimit, until_hours: f64) -> Result<Vec<UsedSpare>> {
    check(lamps, until_hours)?;
    in_world(lamps, world, limit, until_hours)
}

/// The same as a mean over draws.
///
/// # Errors
/// Those of [`used_spares`]; `stock.no_draws` where no draw gave an answer.
pub fn used_spares_over_draws(
    lamps: &[UsedLamp],
    draws: &dyn Draws,
    limit: &HourLimit,
    until_hours: f64,
    run: &Run,
) -> Result<Vec<UsedSpare>> {
    check(lamps, until_hours)?;
    let spread = over_draws(draws, run, |world| in_world(lamps, world, limit, until_hours))?;
    let used = spread.each.len();
    if used == 0 {
        let problem = Problem::new("stock.no_draws", "no draw gave an answer").got(spread.failed.len());
        return Err(Error::new(Kind::Refused, problem));
    }
    let mut mean = spread.best;
    for (i, spare) in mean.iter_mut().enumerate() {
        let each = || spread.each.iter().filter_map(|e| e.get(i));
        spare.lasts = each().map(|s| s.lasts).sum::<f64>() / used as f64;
        spare.mean_hours = each().map(|s| s.mean_hours).sum::<f64>() / used as f64;
    }
    Ok(mean)
}

fn check(lamps: &[UsedLamp], until_hours: f64) -> Result<()> {
    let mut problems = wrong_ages(lamps, "lamps");
    if !(0.0..f64::INFINITY).contains(&until_hours) {
        let what = "the hours until the next delivery must be finite and not negative";
        let problem = Problem::new("stock.delivery_hours", what).at(Place::input("until_hours")).got(until_hours);
        problems.push(problem.expected("programme hours"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// Ages that no used lamp can have.
pub(super) fn wrong_ages(lamps: &[UsedLamp], input: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (i, lamp) in lamps.iter().enumerate() {
        if let Some(age) = lamp.age_hours.filter(|a| !(0.0..f64::INFINITY).contains(a)) {
            let problem = Problem::new("stock.used_age", "the age of a used lamp must be finite and not negative");
            let place = Place::input(input).row(i as u64 + 1).column("age_hours");
            problems.push(problem.at(place).got(age).expected("hours, or none where not known"));
        }
    }
    problems
}

fn in_world(lamps: &[UsedLamp], world: &World, limit: &HourLimit, until_hours: f64) -> Result<Vec<UsedSpare>> {
    let curve = WorldCurve::new(world)?;
    let each = lamps.iter().map(|lamp| {
        let none = |verdict| UsedSpare { lamp: *lamp, verdict, hours_left: 0.0, lasts: 0.0, mean_hours: 0.0 };
        if !Ending::WORKED.contains(&lamp.ending) {
            return Ok(none(UsedVerdict::Ending));
        }
        let Some(age) = lamp.age_hours else { return Ok(none(UsedVerdict::AgeUnknown)) };
        let hours_left = limit.hours() - age;
        // A lamp that no lamp of this world reaches alive has no hours to rely on.
        let now = curve.ln_reliability(age);
        if hours_left <= 0.0 || now == f64::NEG_INFINITY {
            return Ok(none(UsedVerdict::AtLimit));
        }
        let burns = until_hours.min(hours_left);
        let reached = until_hours > hours_left;
        let whole = curve.up_to(age + burns)?.exposure_hours - curve.up_to(age)?.exposure_hours;
        Ok(UsedSpare {
            lamp: *lamp,
            verdict: if reached { UsedVerdict::ReachesLimit } else { UsedVerdict::Serves },
            hours_left,
            lasts: if reached { 0.0 } else { (curve.ln_reliability(age + burns) - now).exp().min(1.0) },
            mean_hours: (whole / now.exp()).clamp(0.0, burns),
        })
    });
    each.collect()
}
