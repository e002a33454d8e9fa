//! Is the incidence of one cause alike in groups, the other causes acting as they do in each?

use serde::{Deserialize, Serialize};

use super::curve::{CurveNote, CurveOptions};
use super::group_test::{ComparedGroup, GroupTest, few_in_groups, packed, strata_together};
use super::rank_test::{check_groups, check_power, read_groups};
use super::risk_sets::RiskSets;
use super::steps::walk;
use crate::base::error::Result;
use crate::base::figure::hours;
use crate::lives::{Reading, Tally};
use crate::records::Ending;

/// How incidences are compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IncidenceTestOptions {
    /// The cause.
    pub cause: Ending,
    /// Each age has as weight the share that has not failed by the cause before it, to this power; 0 for even weights.
    pub power: f64,
    /// The age that stands for a failure known to an interval; without it such rows are refused.
    pub reading: Option<Reading>,
    /// With late entry, the comparison starts at the first age from which each group has this many lamps at risk.
    pub min_at_risk: u64,
}

impl Default for IncidenceTestOptions {
    fn default() -> Self {
        Self { cause: Ending::Burst, power: 0.0, reading: None, min_at_risk: 5 }
    }
}

/// One group on its way along the ages.
#[derive(Clone, Debug, Default)]
struct Way {
    /// Reliability just before each age, all causes.
    reliability: Vec<f64>,
    /// Share not failed by the cause: just before each age, and just after.
    free: Vec<f64>,
    free_after: Vec<f64>,
    /// Lamps at risk, made up to those that have not failed by the cause.
    made_up: Vec<f64>,
    /// Share of the lamps at risk that failed, by every cause.
    failed: Vec<f64>,
}

/// Tests whether the incidence of one cause is the same in groups at every age.
///
/// Equal incidence is not equal hazard: where other causes take lamps away sooner in one group, fewer are left to fail by
/// this one. The rank test of the cause alone asks for hazards, this test for the share of lamps that end by the cause.
///
/// # Formula
/// ```text
/// hazard of the incidence: the rise of I over the share 1 - I that has not failed by the cause, lamps lost to other causes
/// included
/// r_g = n_g (1 - I_g(a-)) / R_g(a-): lamps at risk, made up to that share
/// difference of group g = sum over ages a of w (d_g - r_g d / r)
/// w = (1 - I(a-))^power, I the incidence of all groups together
/// ```
/// `d_g`, `n_g`: failures by the cause and lamps at risk of group g at a; d, r: sums over groups. The covariance is that of the
/// delta method: each failure at an age moves the difference directly, and every later `r_g` through R and I of its
/// group. Failures by the cause have the variance that equal incidence gives them, others the one observed. The statistic is
/// chi-square with groups - 1 degrees of freedom. With a single cause all of it is the [`rank_test`](super::rank_test).
///
/// With late entry all groups are compared from the first age at which each has [`IncidenceTestOptions::min_at_risk`] lamps
/// at risk, given survival to it.
///
/// # Errors
/// Those of [`rank_test`](super::rank_test); `empirical.too_few_at_risk`.
///
/// # Source
/// The comparison: R. J. Gray (1988), A class of K-sample tests for comparing the cumulative incidence of a competing risk,
/// Annals of Statistics 16, 1141-1154. From memory; the covariance is worked out here and checked by simulation.
///
/// # Examples
/// ```
/// use relamp::empirical::{IncidenceTestOptions, incidence_test};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let group = |first: Ending| {
///     let low: Vec<f64> = (1..=20).map(f64::from).collect();
///     let ending = (1..=20).map(|i| if i % 4 == 0 { Ending::Dim } else { first }).collect();
///     Tally::from_rows(&Rows { low: low.clone(), high: low, ending: Some(ending), ..Rows::default() }).unwrap().0
/// };
/// let (a, b) = (group(Ending::Burst), group(Ending::Dim));
/// let options = IncidenceTestOptions { cause: Ending::Burst, ..IncidenceTestOptions::default() };
/// let test = incidence_test(&[("A", &a), ("B", &b)], &options)?;
/// assert!(test.p_value.unwrap() < 0.001); // 15 of 20 against none
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn incidence_test(groups: &[(&str, &Tally)], options: &IncidenceTestOptions) -> Result<GroupTest> {
    check_groups(groups, None)?;
    check_power(options.power)?;
    let curve = CurveOptions { reading: options.reading, min_at_risk: options.min_at_risk, ..CurveOptions::default() };
    let tallies = read_groups(groups, &curve)?;
    let mut from = 0.0_f64;
    for ((name, _), tally) in groups.iter().zip(&tallies) {
        let steps = walk(tally, &curve, false).map_err(|e| e.with_hint(format!("in the group {name:?}")))?;
        from = from.max(steps.conditional_from);
    }
    let sets = RiskSets::of(&tallies.iter().map(AsRef::as_ref).collect::<Vec<_>>(), from, Some(options.cause));
    let ways: Vec<Way> = (0..groups.len()).map(|g| Way::of(&sets, g)).collect();
    let mut made: Vec<ComparedGroup> = groups
        .iter()
        .enumerate()
        .map(|(g, (name, tally))| ComparedGroup {
            name: (*name).to_owned(),
            lamps: tally.lamps(),
            observed: sets.by_cause[g].iter().sum(),
            expected: 0.0,
            difference: 0.0,
        })
        .collect();
    let variance = compare(&sets, &ways, options.power, &mut made);
    let weight = if options.power == 0.0 {
        "every age with weight 1".to_owned()
    } else {
        format!("each age with the share not failed by it to the power {} as weight", options.power)
    };
    let compared = format!("incidence of {}, the other causes acting, {weight}", options.cause.as_str());
    let mut notes = notes(&made, from);
    notes.extend(few_in_groups(&made, None));
    notes.extend(strata_together(groups));
    Ok(GroupTest::new(compared, made, variance, None, notes))
}

impl Way {
    fn of(sets: &RiskSets, g: usize) -> Self {
        let mut way = Self::default();
        let (mut reliability, mut free) = (1.0, 1.0);
        for j in 0..sets.ages.len() {
            let n = sets.at_risk[g][j] as f64;
            let known = n > 0.0 && reliability > 0.0;
            let (d, by) = (sets.failures[g][j] as f64, sets.by_cause[g][j] as f64);
            way.reliability.push(reliability);
            way.free.push(free);
            way.made_up.push(if known { n * free / reliability } else { 0.0 });
            way.failed.push(if known { d / n } else { 0.0 });
            if known {
                free -= reliability * by / n;
                reliability *= 1.0 - d / n;
            }
            way.free_after.push(free);
        }
        way
    }
}

/// Differences and expected failures into the groups; gives the packed covariance of the differences.
fn compare(sets: &RiskSets, ways: &[Way], power: f64, made: &mut [ComparedGroup]) -> Vec<f64> {
    let (k, steps) = (ways.len(), sets.ages.len());
    // Rise of the common incidence over the share that has not failed by the cause, and the weight of each age.
    let (mut rises, mut weights) = (Vec::with_capacity(steps), Vec::with_capacity(steps));
    let mut free = 1.0;
    for j in 0..steps {
        let all: f64 = ways.iter().map(|w| w.made_up[j]).sum();
        let failed: f64 = (0..k).filter(|&g| ways[g].made_up[j] > 0.0).map(|g| sets.by_cause[g][j] as f64).sum();
        let rise = if all > 0.0 { failed / all } else { 0.0 };
        let weight = f64::powf(free, power);
        for (group, (way, by)) in made.iter_mut().zip(ways.iter().zip(&sets.by_cause)) {
            if way.made_up[j] > 0.0 {
                group.expected += way.made_up[j] * rise;
                group.difference += weight * (by[j] as f64 - way.made_up[j] * rise);
            }
        }
        rises.push(rise);
        weights.push(weight);
        free *= (1.0 - rise).max(0.0);
    }
    let mut variance = vec![0.0; k * (k + 1) / 2];
    for (g, way) in ways.iter().enumerate() {
        // How a failure of group g at an age moves every later made-up number, added up from the end.
        let mut later = vec![0.0; k];
        for j in (0..steps).rev() {
            let n = sets.at_risk[g][j] as f64;
            if way.made_up[j] == 0.0 {
                continue;
            }
            let all: f64 = ways.iter().map(|w| w.made_up[j]).sum();
            let direct: Vec<f64> =
                (0..k).map(|i| weights[j] * (f64::from(u8::from(i == g)) - ways[i].made_up[j] / all)).collect();
            // Nothing of the group is left to be moved once all its lamps at risk failed.
            let rest = 1.0 - way.failed[j];
            let left = if rest > 0.0 { way.free_after[j] / rest } else { 0.0 };
            let pull = if rest > 0.0 { (left - way.reliability[j]) / n } else { 0.0 };
            let lamps: u64 = RiskSets::total(&sets.at_risk, j);
            let by_cause: u64 = RiskSets::total(&sets.by_cause, j);
            let ties = if lamps > 1 { lamps.saturating_sub(by_cause) as f64 / (lamps - 1) as f64 } else { 0.0 };
            let own = way.made_up[j] * rises[j] * ties;
            let others = (sets.failures[g][j] - sets.by_cause[g][j]) as f64;
            for row in 0..k {
                for column in 0..=row {
                    let (a, b) = (direct[row] - later[row] * pull, direct[column] - later[column] * pull);
                    let other = later[row] * later[column] * (left / n).powi(2);
                    variance[packed(row, column)] += a * b * own + other * others;
                }
            }
            for (sum, direct) in later.iter_mut().zip(&direct) {
                *sum += direct * way.made_up[j] * rises[j] / way.free[j];
            }
        }
    }
    variance
}

fn notes(made: &[ComparedGroup], from: f64) -> Vec<CurveNote> {
    let mut notes = Vec::new();
    let mut say = |rule: &str, sentence: String| {
        notes.push(CurveNote { rule: rule.to_owned(), age: from, sentence });
    };
    if from > 0.0 {
        say("empirical.given_survival", format!("given survival to {} h in every group", hours(from)));
    }
    for group in made.iter().filter(|g| g.observed == 0) {
        let expected = hours((group.expected * 100.0).round() / 100.0);
        let sentence = format!("group {} has no such failure, where {expected} would be expected", group.name);
        say("empirical.group_without_failures", sentence);
    }
    if made.iter().all(|g| g.observed == 0) {
        say("empirical.groups_undefined", "undefined: no group has a failure by the cause".to_owned());
    }
    notes
}
