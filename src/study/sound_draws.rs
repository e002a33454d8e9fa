//! What must hold of shares of draws against the intervals of the same draws, and of the ages near the best against the
//! cost curve.

use super::decide::LEVEL;
use super::decision_result::PolicyResult;
use crate::base::figure::counted;
use crate::base::sound::Checks;
use crate::policy::Verdict;

/// Order statistics on either side of a percentile, counted from 0, as [`crate::base::math::percentile`] takes them.
fn neighbours(answers: u64, p: f64) -> (u64, u64) {
    let place = (p * (answers as f64 + 1.0) - 1.0).clamp(0.0, answers.saturating_sub(1) as f64);
    (place.floor() as u64, place.ceil() as u64)
}

/// The shares of draws against the ends of the intervals: an end on one side says how many draws lie there at least.
pub(super) fn draws_agree(c: &mut Checks, policy: &PolicyResult, answers: u64) {
    let tail = 0.5 * (1.0 - LEVEL);
    let (low, high) = (neighbours(answers, tail), neighbours(answers, 1.0 - tail));
    let saving = &policy.saving_against_today_interval_per_1000_hours;
    if let Some(beats) = policy.beats_todays_rule_probability {
        let mut fewest = 0;
        let mut most = if policy.planned.age_hours == policy.todays_rule.age_hours { 0 } else { answers };
        if saving.low.is_some_and(|l| l > 0.0) {
            fewest = fewest.max(answers.saturating_sub(low.1));
        }
        if saving.low.is_some_and(|l| l < 0.0) {
            most = most.min(answers.saturating_sub(low.0 + 1));
        }
        if saving.high.is_some_and(|h| h > 0.0) {
            fewest = fewest.max(answers.saturating_sub(high.1));
        }
        if saving.high.is_some_and(|h| h <= 0.0) {
            most = most.min(answers.saturating_sub(high.0 + 1));
        }
        share_of(c, "beats_todays_rule_probability", beats, answers, fewest, most);
    }
    let (ages, ceiling) = (&policy.planned_age_interval_hours, policy.ceiling_hours);
    if let Some(share) = policy.limit_binds_probability {
        let (mut fewest, mut most) = (0, answers);
        // Ends are whole hours rounded down, so that only below the last whole hour an end is surely short of it.
        if ages.low.is_some_and(|l| l < ceiling.floor()) {
            most = most.min(answers.saturating_sub(low.0 + 1));
        }
        if ages.high.is_some_and(|h| h < ceiling.floor()) {
            most = most.min(answers.saturating_sub(high.0 + 1));
        }
        if ceiling == ceiling.floor() && ages.high == Some(ceiling) {
            fewest = answers.saturating_sub(high.1);
        }
        if ceiling == ceiling.floor() && ages.low == Some(ceiling) {
            fewest = answers.saturating_sub(low.1);
        }
        share_of(c, "limit_binds_probability", share, answers, fewest, most);
    }
}

/// A share of draws: a whole number of them, within bounds.
fn share_of(c: &mut Checks, field: &str, share: f64, answers: u64, fewest: u64, most: u64) {
    let count = share * answers as f64;
    let whole = (count - count.round()).abs() <= 1e-6;
    let holds = whole && count >= fewest as f64 - 1e-6 && count <= most as f64 + 1e-6;
    c.need(field, holds, share, format!("{fewest} to {most} of the {}", counted(answers, "draw")));
}

/// How near the best the bands of [`PolicyResult::near_best`] lie.
const NEAR: f64 = 1.02;
/// How far the least cost may lie below that of the best age on the curve, between two of its ages.
const BETWEEN_AGES: f64 = 0.005;

/// The ages near the best against the cost curve: those inside cost little more than the least, those outside more.
pub(super) fn near_best_agrees(c: &mut Checks, policy: &PolicyResult) {
    if policy.near_best.is_empty() {
        let few = policy.verdict == Verdict::TooFewFailures;
        return c.need("near_best", few, "no ages", "the ages near the best, unless failures are too few");
    }
    let within = || policy.cost_curve.iter().filter(|p| p.age_hours <= policy.ceiling_hours);
    let least = within().map(|p| p.cost_per_1000_hours).fold(f64::INFINITY, f64::min);
    for point in within() {
        let age = point.age_hours;
        let inside = policy.near_best.iter().any(|b| b.from_hours <= age && age <= b.to_hours);
        let cost = point.cost_per_1000_hours;
        // A rule that stays is no age of the search, whose best age may then lie between two of the curve.
        let open = policy.verdict == Verdict::TodaysRuleStays;
        let holds = if inside {
            cost <= NEAR * least * (1.0 + 1e-9)
        } else {
            open || cost >= NEAR * least * (1.0 - BETWEEN_AGES)
        };
        let expected = format!("ages within 2 % of the least cost, {least}: {age} h costs {cost}");
        c.need("near_best", holds, if inside { "an age inside" } else { "an age left out" }, expected);
    }
}
