//! What a warranty is worth under a planned age.

use serde::{Deserialize, Serialize};

use super::curve::WorldCurve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::terms::HourLimit;

/// What a warranty is worth for lamps that are changed at an age or at failure, whichever comes first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WarrantyValue {
    /// Planned age, hours.
    pub age_hours: f64,
    /// Age from which nothing comes back, hours.
    pub end_hours: f64,
    /// Chance of a lamp to fail in a covered way before the planned age and the end.
    pub claim_probability: f64,
    /// Mean money back for each lamp.
    pub money_back_per_lamp: f64,
    /// Mean money back per 1,000 lamp hours.
    pub money_back_per_1000_hours: f64,
    /// Mean number of covered failures in a row before a lamp leaves the warranty otherwise: the free lamps of a maker who
    /// replaces each and covers the new one anew.
    pub failures_in_a_row_mean: f64,
    /// Variance of that number.
    pub failures_in_a_row_variance: f64,
    /// Mean hours under warranty until then.
    pub covered_hours: f64,
}

impl Sound for WarrantyValue {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.positive("end_hours", self.end_hours);
        c.share("claim_probability", self.claim_probability);
        c.not_negative("money_back_per_lamp", self.money_back_per_lamp);
        c.not_negative("money_back_per_1000_hours", self.money_back_per_1000_hours);
        let (claim, left) = (self.claim_probability, 1.0 - self.claim_probability);
        c.equal("failures_in_a_row_mean", self.failures_in_a_row_mean, claim / left);
        c.equal("failures_in_a_row_variance", self.failures_in_a_row_variance, claim / (left * left));
        c.positive("covered_hours", self.covered_hours);
    }
}

/// What the warranty of a world's costs is worth at a planned age.
///
/// # Formula
/// ```text
/// E = min(T, end);   q = sum over covered causes of F_j(E);   money back per lamp = sum_j integral of b_j dF_j over (0, E)
/// failures in a row: geometric, mean q / (1 - q), variance q / (1 - q)^2;   covered hours = M(E) / (1 - q)
/// ```
/// `F_j` and `M` as for [`super::cost_curve`]; `b_j(t)` money back for a failure by cause j at age t.
///
/// # Errors
/// `policy.no_warranty` for costs without one; `policy.age_past_limit` for an age past the limit; `policy.age` unless it is
/// above 0; `policy.warranty_all_fail` where every lamp fails under warranty; those of [`WorldCurve::new`].
///
/// # Source
/// Blischke and Murthy, Warranty Cost Analysis (1994): rebate and renewing free replacement. From memory.
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::warranty_value;
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours, Warranty};
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 5000.0 }) }];
/// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?;
/// let costs = costs.with_warranty(Warranty::full(780.0, 1000.0, [Ending::Burst])?)?;
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let value = warranty_value(&World { causes, costs }, 1500.0, &printed.limit()?)?;
/// assert!((value.money_back_per_lamp - 780.0 * (1.0 - (-0.2_f64).exp())).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn warranty_value(world: &World, age_hours: f64, limit: &HourLimit) -> Result<WarrantyValue> {
    let Some(warranty) = world.costs.warranty() else {
        let problem = Problem::new("policy.no_warranty", "these costs know no warranty").at(Place::input("costs"));
        return Err(Error::new(Kind::Input, problem.expected("costs with a warranty")));
    };
    if age_hours > limit.hours() {
        let problem = Problem::new("policy.age_past_limit", "a planned age lies past the hour limit")
            .at(Place::input("age_hours"))
            .got(age_hours);
        return Err(Error::new(Kind::Limit, problem.expected(format!("at most {} h", limit.hours()))));
    }
    let curve = WorldCurve::new(world)?;
    let whole = curve.up_to(age_hours)?;
    let end_hours = warranty.end_hours();
    let under = if age_hours <= end_hours { whole.clone() } else { curve.up_to(end_hours)? };
    let covered = curve.covered().unwrap_or(&[]);
    let claim: f64 = covered.iter().zip(&under.incidence).map(|(share, f)| share * f).sum();
    let left = 1.0 - claim;
    if left <= 0.0 {
        let problem = Problem::new("policy.warranty_all_fail", "every lamp fails under warranty, so it never ends");
        return Err(Error::new(Kind::Refused, problem.got(claim)));
    }
    let money: f64 = whole.money_back.iter().sum();
    Ok(WarrantyValue {
        age_hours,
        end_hours,
        claim_probability: claim,
        money_back_per_lamp: money,
        money_back_per_1000_hours: 1000.0 * money / whole.exposure_hours,
        failures_in_a_row_mean: claim / left,
        failures_in_a_row_variance: claim / (left * left),
        covered_hours: under.exposure_hours / left,
    })
}
