//! What pooling says of the groups, and under which priors.

use serde::{Deserialize, Serialize};

use crate::base::figure::{counted, short};
use crate::base::sound::{Checks, Sound};
use crate::fit::model::{Facts, Note, check_family};
use crate::records::Ending;

/// How groups are pooled.
#[derive(Clone, Debug, PartialEq)]
pub struct PoolingOptions {
    /// Endings that count as failure; failures with another ending are right-censored at their `low`. None: all failures count.
    pub endings: Option<Vec<Ending>>,
    /// Categories whose levels have baselines of their own; `stratum` for the strata of the lives. None: `stratum`,
    /// unless the strata are what is pooled.
    pub strata: Option<Vec<String>>,
    /// Scales of the half-normal prior of the spread, three or more: the first gives the answers, the others show how
    /// far those lean on it.
    pub prior_scales: Vec<f64>,
    /// Hazard ratio to the rest of the fleet above which a group is worth a look.
    pub threshold: f64,
    /// Level of the intervals.
    pub level: f64,
    /// Draws, 500 to 200,000.
    pub draws: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Largest number of iterations of one search.
    pub iterations: u64,
}

/// Scales of the prior unless said otherwise. Our choice, without a source: with a spread of 0.5 two groups in three lie
/// within a factor of 1.65 of the middle.
const PRIOR_SCALES: [f64; 3] = [0.5, 0.25, 1.0];

impl Default for PoolingOptions {
    fn default() -> Self {
        Self {
            endings: None,
            strata: None,
            prior_scales: PRIOR_SCALES.to_vec(),
            threshold: 1.5,
            level: 0.95,
            draws: 4000,
            seed: 1,
            iterations: 100,
        }
    }
}

/// What the records say of a group by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PooledGroup {
    /// Its name.
    pub name: String,
    /// Lamps, or pieces of life where hours are missing.
    pub lamps: u64,
    /// Its failures.
    pub failures: u64,
    /// Failures to be expected at the ages of its lamps, had it the hazard of the others together.
    pub expected: f64,
    /// Failures over expected; none where no failure would be expected.
    pub raw_ratio: Option<f64>,
}

/// What pooling makes of a group under one prior.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroupEffect {
    /// Hazard of the group over that of the others together: median.
    pub ratio: f64,
    /// Lower end of its interval.
    pub low: f64,
    /// Upper end of its interval.
    pub high: f64,
    /// Chance that it is above the threshold.
    pub chance_above: f64,
    /// Median of its rank, 1 for the highest hazard.
    pub rank: f64,
    /// Lower end of the interval of the rank.
    pub rank_low: f64,
    /// Upper end of the interval of the rank.
    pub rank_high: f64,
}

/// The answers under one scale of the prior.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnderPrior {
    /// Scale of the half-normal prior of the spread.
    pub prior_scale: f64,
    /// Number of even draws that would say as much.
    pub effective_draws: f64,
    /// Standard deviation of ln hazard between groups: median.
    pub spread: f64,
    /// Lower end of its interval.
    pub spread_low: f64,
    /// Upper end of its interval.
    pub spread_high: f64,
    /// One for each group.
    pub effects: Vec<GroupEffect>,
}

/// The baseline of a stratum where the spread is at its median.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PooledBaseline {
    /// Name of the stratum.
    pub stratum: String,
    /// Parameters of the family, for a group in the middle of all.
    pub parameters: Vec<f64>,
}

/// Groups whose hazards vary about that of the fleet. Only [`super::pool_groups`] makes one; it holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PooledGroups {
    pub(super) family: String,
    pub(super) by: String,
    pub(super) threshold: f64,
    pub(super) level: f64,
    pub(super) draws: u64,
    pub(super) seed: u64,
    pub(super) facts: Facts,
    pub(super) baselines: Vec<PooledBaseline>,
    pub(super) groups: Vec<PooledGroup>,
    pub(super) answers: Vec<UnderPrior>,
    pub(super) notes: Vec<Note>,
}

impl Sound for PooledGroup {
    fn check(&self, c: &mut Checks) {
        c.words("name", &self.name);
        c.need(
            "failures",
            self.failures <= self.lamps,
            self.failures,
            format!("at most {}", counted(self.lamps, "lamp")),
        );
        c.not_negative("expected", self.expected);
        c.there("raw_ratio", self.raw_ratio.is_some(), self.expected > 0.0, "there where failures are expected");
        if let Some(ratio) = self.raw_ratio {
            c.equal("raw_ratio", ratio, self.failures as f64 / self.expected);
        }
    }
}

impl UnderPrior {
    fn check_for(&self, c: &mut Checks, groups: usize) {
        c.positive("prior_scale", self.prior_scale);
        c.positive("effective_draws", self.effective_draws);
        c.not_negative("spread_low", self.spread_low);
        c.between("spread", self.spread, self.spread_low, self.spread_high);
        c.entries("effects", self.effects.len(), groups);
        for (i, e) in self.effects.iter().enumerate() {
            c.inside(&format!("effects[{i}]"), |c| {
                c.not_negative("low", e.low);
                c.between("ratio", e.ratio, e.low, e.high);
                c.share("chance_above", e.chance_above);
                c.between("rank", e.rank, e.rank_low, e.rank_high);
                c.need("rank_low", e.rank_low >= 1.0, e.rank_low, "1 or more");
                c.need("rank_high", e.rank_high <= groups as f64, e.rank_high, format!("at most {groups}"));
            });
        }
    }
}

impl Sound for PooledGroups {
    fn check(&self, c: &mut Checks) {
        let family = check_family(c, &self.family);
        c.words("by", &self.by);
        c.positive("threshold", self.threshold);
        c.level("level", self.level);
        c.part("facts", &self.facts);
        for (i, b) in self.baselines.iter().enumerate() {
            if let Some(family) = family {
                c.entries(&format!("baselines[{i}].parameters"), b.parameters.len(), family.width());
            }
        }
        c.once("baselines", self.baselines.iter().map(|b| &b.stratum));
        c.need("groups", self.groups.len() >= 2, self.groups.len(), "2 or more");
        c.parts("groups", &self.groups);
        c.once("groups", self.groups.iter().map(|g| &g.name));
        let sums = self.groups.iter().fold((0, 0), |(l, f), g| (l + g.lamps, f + g.failures));
        c.follows("facts.lamps", &self.facts.lamps, &sums.0);
        c.follows("facts.failures", &self.facts.failures, &sums.1);
        c.need("answers", self.answers.len() >= FEWEST_SCALES, self.answers.len(), "3 or more");
        for (i, answer) in self.answers.iter().enumerate() {
            c.inside(&format!("answers[{i}]"), |c| answer.check_for(c, self.groups.len()));
        }
    }
}

/// Scales of the prior under which the answers are shown, at the least.
pub(super) const FEWEST_SCALES: usize = 3;

impl PooledGroups {
    /// Name of the family of the baselines.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// What the groups are: a category of the lives, `stratum` or `cluster`.
    pub fn by(&self) -> &str {
        &self.by
    }

    /// Hazard ratio that the chances are about.
    pub fn threshold(&self) -> f64 {
        self.threshold
    }

    /// Level of the intervals.
    pub fn level(&self) -> f64 {
        self.level
    }

    /// Draws that were kept, and their seed.
    pub fn draws(&self) -> (u64, u64) {
        (self.draws, self.seed)
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// Baselines by stratum.
    pub fn baselines(&self) -> &[PooledBaseline] {
        &self.baselines
    }

    /// What the records say of each group by itself, in the order of names.
    pub fn groups(&self) -> &[PooledGroup] {
        &self.groups
    }

    /// The answers under each scale of the prior, the first the one to use; effects in the order of the groups.
    pub fn answers(&self) -> &[UnderPrior] {
        &self.answers
    }

    /// The group and its effect under the first prior.
    pub fn each(&self) -> impl Iterator<Item = (&PooledGroup, &GroupEffect)> {
        self.groups.iter().zip(self.answers.first().into_iter().flat_map(|a| &a.effects))
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The gist in words: how far groups are apart, and which are most likely above the threshold.
    pub fn sentence(&self) -> String {
        let Some(first) = self.answers.first() else { return String::new() };
        let two = |x: f64| short((x * 100.0).round() / 100.0);
        let apart = format!(
            "by {}, hazards are spread by {} in ln hazard ({} to {}, prior scale {})",
            self.by,
            two(first.spread),
            two(first.spread_low),
            two(first.spread_high),
            short(first.prior_scale)
        );
        let mut worst: Vec<(&PooledGroup, &GroupEffect)> =
            self.each().filter(|(_, e)| e.chance_above >= LIKELY).collect();
        worst.sort_by(|a, b| b.1.chance_above.total_cmp(&a.1.chance_above).then_with(|| a.0.name.cmp(&b.0.name)));
        let bound = format!("more than {} times the hazard of the rest", short(self.threshold));
        if worst.is_empty() {
            return format!("{apart}; no group has more likely than not {bound}");
        }
        let more = worst.len().saturating_sub(NAMED);
        let named = worst
            .iter()
            .take(NAMED)
            .map(|(g, e)| format!("{} ({} %)", g.name, short((100.0 * e.chance_above).round())));
        let named = named.collect::<Vec<_>>().join(", ");
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        format!("{apart}; more likely than not, {bound}: {named}{more}")
    }
}

/// Chance from which a group is named in the sentence.
const LIKELY: f64 = 0.5;
/// Groups named in the sentence.
const NAMED: usize = 5;
