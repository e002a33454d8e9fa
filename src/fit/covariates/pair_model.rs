//! Two groups beside each other: what was found, and its saved form.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::model::{CovariateFit, TermTest};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::special::normal_quantile;
use crate::base::sound::{Checks, Sound};
use crate::fit::interval::{Sides, critical};
use crate::fit::model::Note;
use crate::lives::CovariateValue;
use crate::records::Ending;

/// A ratio of the first group to the second with its interval; an end that is not there is open.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeRatio {
    /// The ratio.
    pub estimate: f64,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

impl Sound for LifeRatio {
    fn check(&self, c: &mut Checks) {
        c.positive("estimate", self.estimate);
        c.between("estimate", self.estimate, self.low, self.high);
    }
}

/// What the records hold of one of two groups.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairSide {
    /// Name of the group.
    pub name: String,
    /// Lamps, or pieces of life where hours are missing.
    pub lamps: u64,
    /// Its failures.
    pub failures: u64,
    /// Hours under observation; a failure known to an interval counts to its middle.
    pub exposure_hours: f64,
    /// Oldest age at which a lamp was at risk, hours.
    pub oldest_at_risk_hours: f64,
    /// Mean age of the lamps that came out, whatever for: shown because it misleads, for young groups lose young lamps.
    pub mean_removed_hours: Option<f64>,
    /// Endings of its failures with their shares, which add up to 1.
    pub endings: Vec<(Ending, f64)>,
    /// Endings that only failures of the other group had.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unseen: Vec<Ending>,
    /// The lamp that is compared, in columns of the design.
    pub columns: Vec<f64>,
    /// The lamp that is compared, by name.
    pub covariates: BTreeMap<String, CovariateValue>,
}

impl Sound for PairSide {
    fn check(&self, c: &mut Checks) {
        c.words("name", &self.name);
        c.need(
            "failures",
            self.failures <= self.lamps,
            self.failures,
            format!("at most {}", counted(self.lamps, "lamp")),
        );
        c.need("failures", self.failures > 0, self.failures, "1 or more");
        c.not_negative("exposure_hours", self.exposure_hours);
        c.not_negative("oldest_at_risk_hours", self.oldest_at_risk_hours);
        if let Some(mean) = self.mean_removed_hours {
            c.age("mean_removed_hours", mean, self.oldest_at_risk_hours);
        }
        c.once("endings", self.endings.iter().map(|e| e.0));
        c.once("unseen", self.known());
        for (i, (_, share)) in self.endings.iter().enumerate() {
            c.share(&format!("endings[{i}]"), *share);
        }
        c.equal("endings", self.endings.iter().map(|e| e.1).sum(), 1.0);
    }
}

impl PairSide {
    /// Endings of the failures of either group: its own, then those it has not seen.
    pub fn known(&self) -> impl Iterator<Item = Ending> {
        self.endings.iter().map(|e| e.0).chain(self.unseen.iter().copied())
    }
}

/// One refit: coordinates of baseline and coefficients, and the shares of the endings of both groups.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PairDraw {
    pub(super) x: Vec<f64>,
    pub(super) shares: [Vec<f64>; 2],
}

/// Two groups of lamps compared at equal age. Only [`super::compare_pair`] makes one; it holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairFit {
    pub(super) by: String,
    pub(super) level: f64,
    pub(super) seed: u64,
    pub(super) adjusted: Vec<String>,
    pub(super) test: TermTest,
    pub(super) life_ratio: LifeRatio,
    pub(super) hazard_ratio: Option<LifeRatio>,
    pub(super) sides: [PairSide; 2],
    pub(super) fit: CovariateFit,
    pub(super) draws: Vec<PairDraw>,
    pub(super) unsettled: Vec<u64>,
    /// Clusters of the lamps of each group, a lamp without one counting by itself; none where no lamp has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) clusters: Option<[u64; 2]>,
    pub(super) notes: Vec<Note>,
}

impl Sound for PairFit {
    fn check(&self, c: &mut Checks) {
        c.words("by", &self.by);
        c.level("level", self.level);
        c.part("test", &self.test);
        c.part("life_ratio", &self.life_ratio);
        if let Some(ratio) = &self.hazard_ratio {
            c.part("hazard_ratio", ratio);
        }
        c.part("fit", &self.fit);
        for n in self.clusters.iter().flatten() {
            c.need("clusters", *n >= 2, n, "2 or more");
        }
        c.parts("sides", &self.sides);
        c.once("sides", self.sides.iter().map(|s| &s.name));
        let q = self.fit.coefficients.len();
        for (i, side) in self.sides.iter().enumerate() {
            c.entries(&format!("sides[{i}].columns"), side.columns.len(), q);
        }
        let width = self.fit.baseline.len() + q;
        for (i, draw) in self.draws.iter().enumerate() {
            c.entries(&format!("draws[{i}].x"), draw.x.len(), width);
            for (shares, side) in draw.shares.iter().zip(&self.sides) {
                c.entries(&format!("draws[{i}].shares"), shares.len(), side.known().count());
                c.column(&format!("draws[{i}].shares"), shares, Checks::share);
            }
        }
        let all = (self.draws.len() + self.unsettled.len()) as u64;
        let order = self.unsettled.is_sorted_by(|a, b| a < b) && self.unsettled.iter().all(|k| *k < all);
        c.need("unsettled", order, "others", "places of refits, in rising order");
    }
}

impl PairFit {
    /// The category whose levels are compared.
    pub fn by(&self) -> &str {
        &self.by
    }

    /// Level of the intervals.
    pub fn level(&self) -> f64 {
        self.level
    }

    /// Terms that the comparison is adjusted for.
    pub fn adjusted(&self) -> &[String] {
        &self.adjusted
    }

    /// Clusters of the lamps of each group, a lamp without one counting by itself; none where no lamp has one.
    pub fn clusters(&self) -> Option<[u64; 2]> {
        self.clusters
    }

    /// Test that lives of both groups are the same: by the likelihood ratio; where lamps have clusters by Student's t over the
    /// refits, told as the chi-square statistic of the same chance.
    pub fn test(&self) -> &TermTest {
        &self.test
    }

    /// Lives of the first group over those of the second, with a profile interval; where lamps have clusters, one from the
    /// spread of the refits.
    pub fn life_ratio(&self) -> &LifeRatio {
        &self.life_ratio
    }

    /// Hazard of the first group over that of the second, shape left open; none where the records cannot say.
    pub fn hazard_ratio(&self) -> Option<&LifeRatio> {
        self.hazard_ratio.as_ref()
    }

    /// What the records hold of both groups, first and second.
    pub fn sides(&self) -> &[PairSide; 2] {
        &self.sides
    }

    /// The regression behind it.
    pub fn fit(&self) -> &CovariateFit {
        &self.fit
    }

    /// Number of refits that settled.
    pub fn draws(&self) -> usize {
        self.draws.len()
    }

    /// Refits that did not settle.
    pub fn unsettled(&self) -> &[u64] {
        &self.unsettled
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }
}

/// Failures, of both groups together, with which a hazard ratio is told from 1.
///
/// # Formula
/// ```text
/// failures = (z((1 + level) / 2) + z(power))^2 / (share (1 - share) ln(hazard_ratio)^2)
/// ```
/// share: part of the failures that the first group has where hazards are alike; z: normal quantile. The test has two sides.
///
/// # Errors
/// `fit.level`; `fit.pair_power` for a power, a share or a ratio that is none.
///
/// # Source
/// D. A. Schoenfeld (1983), Biometrics 39, 499-503. From memory.
///
/// # Examples
/// ```
/// use relamp::fit::failures_to_see;
/// // By hand: (1.960 + 0.842)^2 / (0.25 x 0.6931^2) = 65.3.
/// assert_eq!(failures_to_see(2.0, 0.5, 0.95, 0.8)?, 66);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn failures_to_see(hazard_ratio: f64, share: f64, level: f64, power: f64) -> Result<u64> {
    let z = critical(level, Sides::Both)? + normal_quantile(checked_power(power)?);
    let effect = hazard_ratio.ln();
    if !(effect.is_finite() && effect != 0.0 && share > 0.0 && share < 1.0) {
        let what = "no number of failures tells this from no difference";
        let problem = Problem::new("fit.pair_power", what).at(Place::input("hazard_ratio"));
        let problem = problem.got(format!("hazard ratio {hazard_ratio} with share {share}"));
        return Err(Error::new(Kind::Domain, problem.expected("a ratio above 0 that is not 1, a share inside (0, 1)")));
    }
    Ok((z * z / (share * (1.0 - share) * effect * effect)).ceil() as u64)
}

/// A power above one half: below it a difference is more likely missed than seen.
pub(crate) fn checked_power(power: f64) -> Result<f64> {
    if (0.5..1.0).contains(&power) {
        return Ok(power);
    }
    let problem = Problem::new("fit.pair_power", "not a power").at(Place::input("power")).got(power);
    Err(Error::new(Kind::Domain, problem.expected("0.5 or more, below 1")))
}
