//! What a warranty is worth under a planned age.

use serde::{Deserialize, Serialize};

use super::curve::WorldCurve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::root::bracketed;
use crate::base::sound::{Checks, Sound};
use crate::family::Life;
use crate::fit::World;
use crate::renewal::{ChangeRule, expected_changes};
use crate::terms::HourLimit;

/// Ages, each a tenth before the next, from which the share that fails under warranty is known.
const KNOWN: i32 = 60;

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
    /// Mean number of covered failures in a row within the hours of one warranty: the free lamps of a maker who covers each
    /// only for what is left of the first one's. None where lives fail by steps that no sum over time follows.
    pub failures_in_first_warranty: Option<f64>,
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
        // Each lamp is covered for no longer than the first, and the first for as long.
        let (first, most) = (self.claim_probability, self.failures_in_a_row_mean);
        if let Some(in_first) = self.failures_in_first_warranty {
            c.between("failures_in_first_warranty", in_first, first, most);
        }
    }
}

/// What the warranty of a world's costs is worth at a planned age.
///
/// # Formula
/// ```text
/// E = min(T, end);   q = sum over covered causes of F_j(E);   money back per lamp = sum_j integral of b_j dF_j over (0, E)
/// failures in a row: geometric, mean q / (1 - q), variance q / (1 - q)^2;   covered hours = M(E) / (1 - q)
/// failures in the first warranty: N(end) of N(t) = G(t) + integral of N(t - s) dG(s) over (0, t), G(t) = the sum in q at min(t, E)
/// ```
/// `F_j` and `M` as for [`super::cost_curve`]; `b_j(t)` money back for a failure by cause j at age t.
///
/// # Errors
/// `policy.no_warranty` for costs without one; `policy.age_past_limit` for an age past the limit; `policy.age` unless it is
/// above 0; `policy.warranty_all_fail` where every lamp fails under warranty; those of [`WorldCurve::new`].
///
/// # Source
/// Blischke and Murthy, Warranty Cost Analysis (1994): rebate, renewing and non-renewing free replacement. From memory.
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
    let first = Covered::new(&curve, covered, age_hours.min(end_hours), claim)?;
    let in_first = expected_changes(&first, &ChangeRule::to_failure(), &[end_hours]);
    Ok(WarrantyValue {
        age_hours,
        end_hours,
        claim_probability: claim,
        money_back_per_lamp: money,
        money_back_per_1000_hours: 1000.0 * money / whole.exposure_hours,
        failures_in_a_row_mean: claim / left,
        failures_in_a_row_variance: claim / (left * left),
        covered_hours: under.exposure_hours / left,
        failures_in_first_warranty: in_first.ok().and_then(|m| m.failures.first().copied()),
    })
}

/// The age at a covered failure of a lamp; for a lamp that leaves the warranty otherwise, never.
#[derive(Debug)]
struct Covered<'a> {
    curve: WorldCurve<'a>,
    shares: &'a [f64],
    kinks: Vec<f64>,
    end: f64,
    claim: f64,
}

impl<'a> Covered<'a> {
    fn new(curve: &'a WorldCurve<'a>, shares: &'a [f64], end: f64, claim: f64) -> Result<Self> {
        let mut kinks: Vec<f64> = curve.kinks().iter().copied().filter(|k| *k < end).collect();
        kinks.push(end);
        // Short integrals from known ages: the sums ask for thousands.
        let mut known = curve.without_money_back();
        let ages: Vec<f64> = (1..=KNOWN).rev().map(|i| end * 0.9_f64.powi(i)).collect();
        known.remember(&ages)?;
        Ok(Self { curve: known, shares, kinks, end, claim })
    }
}

impl Life for Covered<'_> {
    fn ln_density(&self, age: f64) -> f64 {
        let failing: f64 =
            self.shares.iter().zip(self.curve.hazards(age)).map(|(s, h)| if *s > 0.0 { s * h } else { 0.0 }).sum();
        if age >= self.end { f64::NEG_INFINITY } else { failing.ln() + self.curve.ln_reliability(age) }
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        (-self.failure_probability(age)).ln_1p()
    }

    fn reliability(&self, age: f64) -> f64 {
        // To the bit the share that never fails once no more can: a rest of rounding would burn for ever.
        1.0 - self.failure_probability(age)
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.failure_probability(age).ln()
    }

    fn failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 {
            return 0.0;
        }
        if age >= self.end {
            return self.claim;
        }
        // An integral that fails shows as no number, and the sum over time is refused.
        self.curve.up_to(age).map_or(f64::NAN, |u| self.shares.iter().zip(&u.incidence).map(|(s, f)| s * f).sum())
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        if p >= self.claim {
            return Ok(if p > self.claim { f64::INFINITY } else { self.end });
        }
        if p <= 0.0 {
            return Ok(0.0);
        }
        let miss = |x: f64| Ok((self.failure_probability(x.exp()) / p).ln().clamp(-f64::MAX, f64::MAX));
        let mut low = self.end;
        while low > f64::MIN_POSITIVE && self.failure_probability(low) >= p {
            low *= 0.25;
        }
        Ok(bracketed(miss, low.ln(), self.end.next_up().ln(), 1e-12)?.exp())
    }

    fn landmarks(&self) -> Vec<f64> {
        self.curve.landmarks().iter().copied().filter(|age| *age < self.end).collect()
    }

    fn mean_to(&self, _: f64) -> Result<f64> {
        Ok(f64::INFINITY)
    }

    fn never_fails(&self) -> f64 {
        1.0 - self.claim
    }

    fn kinks(&self) -> &[f64] {
        &self.kinks
    }
}
