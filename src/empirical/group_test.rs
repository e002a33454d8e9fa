//! What a test between groups gives: the distance of each from what equality expects, and how likely so much is by chance.

use serde::{Deserialize, Serialize};

use super::curve::CurveNote;
use crate::base::error::Result;
use crate::base::figure::tenths;
use crate::base::math::linalg::quadratic_form;
use crate::base::math::special::{ln_gamma_q, normal_cdf};
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Tally, listed_strata};

const FORMAT: Format = Format::new("group_test", 1);
/// Directions of a scaled variance below this hold nothing but rounding.
const FLAT: f64 = 1e-9;
/// Failures expected in the smallest group, for each group compared, from which the chi-square law of the statistic is good.
const ENOUGH_A_GROUP: f64 = 2.5;

/// One group in a test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ComparedGroup {
    /// Its name.
    pub name: String,
    /// Its lamps.
    pub lamps: u64,
    /// Failures observed, without weights.
    pub observed: u64,
    /// Failures expected were all groups alike, without weights.
    pub expected: f64,
    /// Observed minus expected, each age with its weight.
    pub difference: f64,
}

/// Warns where a p value between groups of few failures is too small. A trend over scores has one direction and needs it less.
pub(super) fn few_in_groups(groups: &[ComparedGroup], scores: Option<&[f64]>) -> Option<CurveNote> {
    let compared: Vec<&ComparedGroup> = groups.iter().filter(|g| g.expected > 0.0).collect();
    let least = compared.iter().min_by(|a, b| a.expected.total_cmp(&b.expected))?;
    if scores.is_some() || compared.len() < 2 || least.expected >= ENOUGH_A_GROUP * compared.len() as f64 {
        return None;
    }
    let some = tenths(least.expected);
    let failures = if some == "1" { "failure" } else { "failures" };
    let sentence = format!(
        "the p value is rough and tends to be too small: {} groups are compared, and {} is expected to have {some} {failures}; \
         groups that are alike are told apart too often",
        compared.len(),
        least.name,
    );
    Some(CurveNote { rule: "empirical.groups_small".to_owned(), age: 0.0, sentence })
}

/// Warns where a group holds lamps of several strata, such as lamp classes: a mix of its own looks like a difference.
pub(super) fn strata_together(groups: &[(&str, &Tally)]) -> Option<CurveNote> {
    let (name, tally) = groups.iter().find(|(_, tally)| tally.strata_left(std::iter::empty()).is_some())?;
    let sentence = format!(
        "group {name} puts lamps of {} together: a group that holds more of one of them differs by that alone; compare \
         within strata, or one stratum at a time",
        listed_strata([*tally])
    );
    Some(CurveNote { rule: "empirical.strata_together".to_owned(), age: 0.0, sentence })
}

/// A test whether groups are alike; made by [`rank_test`](super::rank_test) and [`incidence_test`](super::incidence_test).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroupTest {
    /// What is compared, and with which weights, in words.
    pub compared: String,
    /// The groups, in the order given.
    pub groups: Vec<ComparedGroup>,
    /// Variance of the differences, row by row of its lower half, `(groups (groups + 1) / 2,)`.
    pub variance: Vec<f64>,
    /// Scores of the groups where a trend is tested.
    pub scores: Option<Vec<f64>>,
    /// The statistic; none where the records compare nothing, which a note explains.
    pub statistic: Option<f64>,
    /// Degrees of freedom of its chi-square law; 0 where there is none.
    pub degrees_of_freedom: usize,
    /// Chance of a statistic at least this large among groups that are alike.
    pub p_value: Option<f64>,
    /// For a trend: its size in standard errors, above 0 where a higher score goes with more failures than expected.
    pub trend: Option<f64>,
    /// What to know when reading the test.
    pub notes: Vec<CurveNote>,
}

impl Sound for GroupTest {
    fn check(&self, c: &mut Checks) {
        let k = self.groups.len();
        c.need("groups", k >= 2, k, "2 or more");
        c.once("groups", self.groups.iter().map(|g| g.name.as_str()));
        c.entries("variance", self.variance.len(), k * (k + 1) / 2);
        if let Some(scores) = &self.scores {
            c.entries("scores", scores.len(), k);
        }
        for (i, group) in self.groups.iter().enumerate() {
            c.not_negative(&format!("groups[{i}].expected"), group.expected);
            c.need(
                &format!("groups[{i}].observed"),
                group.observed <= group.lamps,
                group.observed,
                "at most the lamps",
            );
        }
        let made = settle(&self.differences(), &self.variance, self.scores.as_deref());
        c.there("statistic", self.statistic.is_some(), made.statistic.is_some(), "there where the variance is");
        c.follows("degrees_of_freedom", &self.degrees_of_freedom, &made.degrees_of_freedom);
        c.there("p_value", self.p_value.is_some(), made.p_value.is_some(), "there with a statistic");
        c.there("trend", self.trend.is_some(), made.trend.is_some(), "there with scores");
        let pairs = [
            ("statistic", self.statistic, made.statistic),
            ("p_value", self.p_value, made.p_value),
            ("trend", self.trend, made.trend),
        ];
        for (field, got, made) in pairs {
            if let (Some(got), Some(made)) = (got, made) {
                c.equal(field, got, made);
            }
        }
    }
}

/// What differences and their variance come to.
pub(super) struct Settled {
    pub statistic: Option<f64>,
    pub degrees_of_freedom: usize,
    pub p_value: Option<f64>,
    pub trend: Option<f64>,
}

/// Place of (row, column) in the lower half, column <= row.
pub(super) fn packed(row: usize, column: usize) -> usize {
    row * (row + 1) / 2 + column
}

/// The statistic of differences that add up to 0: u' V- u, or (s' u)^2 / s' V s for scores s.
pub(super) fn settle(differences: &[f64], variance: &[f64], scores: Option<&[f64]>) -> Settled {
    let none = Settled { statistic: None, degrees_of_freedom: 0, p_value: None, trend: None };
    let at = |i: usize, j: usize| variance.get(packed(i.max(j), i.min(j))).copied().unwrap_or(0.0);
    // Groups that are never at risk beside another have no part; the others are scaled, so that small ones count alike.
    let held: Vec<usize> = (0..differences.len()).filter(|&i| at(i, i) > 0.0).collect();
    let root = |i: usize| at(i, i).sqrt();
    if held.len() < 2 {
        return none;
    }
    if let Some(scores) = scores {
        let along: f64 = differences.iter().zip(scores).map(|(u, s)| u * s).sum();
        let mean = held.iter().filter_map(|&i| scores.get(i)).sum::<f64>() / held.len() as f64;
        let centred = |i: usize| scores.get(i).map_or(0.0, |s| s - mean);
        let pairs = held.iter().flat_map(|&i| held.iter().map(move |&j| (i, j)));
        let (spread, size) = pairs.fold((0.0, 0.0), |(spread, size), (i, j)| {
            let part = centred(i) * centred(j);
            (spread + part * at(i, j), size + part.abs() * root(i) * root(j))
        });
        if spread.is_nan() || spread <= FLAT * size {
            return none;
        }
        let trend = along / spread.sqrt();
        let p = 2.0 * normal_cdf(-trend.abs());
        return Settled { statistic: Some(trend * trend), degrees_of_freedom: 1, p_value: Some(p), trend: Some(trend) };
    }
    let mut scaled = Vec::with_capacity(held.len() * (held.len() + 1) / 2);
    for (row, &i) in held.iter().enumerate() {
        scaled.extend(held.iter().take(row + 1).map(|&j| at(i, j) / (root(i) * root(j))));
    }
    let u: Vec<f64> = held.iter().map(|&i| differences[i] / root(i)).collect();
    match quadratic_form(&scaled, &u, FLAT) {
        Some((statistic, rank)) if rank > 0 => {
            let p = ln_gamma_q(rank as f64 / 2.0, statistic / 2.0).exp();
            Settled { statistic: Some(statistic), degrees_of_freedom: rank, p_value: Some(p), trend: None }
        }
        _ => none,
    }
}

impl GroupTest {
    pub(super) fn new(
        compared: String,
        groups: Vec<ComparedGroup>,
        variance: Vec<f64>,
        scores: Option<Vec<f64>>,
        notes: Vec<CurveNote>,
    ) -> Self {
        let differences: Vec<f64> = groups.iter().map(|g| g.difference).collect();
        let settled = settle(&differences, &variance, scores.as_deref());
        Self {
            compared,
            groups,
            variance,
            scores,
            statistic: settled.statistic,
            degrees_of_freedom: settled.degrees_of_freedom,
            p_value: settled.p_value,
            trend: settled.trend,
            notes,
        }
    }

    fn differences(&self) -> Vec<f64> {
        self.groups.iter().map(|g| g.difference).collect()
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A test from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
