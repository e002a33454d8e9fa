//! The changes of one screen over time on a fine grid: what a lamp fitted new brings.

use super::socket::NEGLIGIBLE;
use crate::base::error::{Error, Kind, Problem, Result};
pub(super) use crate::base::math::lanes::mirrored;
use crate::policy::WorldCurve;

/// Most changes of one screen in a forecast; more means that a planned age of hours was meant as something else.
const MOST_CHANGES: usize = 400;

/// Changes that follow a change, for screens that burn the same hours a step.
///
/// # Formula
/// ```text
/// p_k = [M(x_{k-1}) - 2 M(x_k) + M(x_{k+1})] / -step,   x_k = k step, M(x) = integral of R over (0, min(x, T))
/// ```
/// `p_k` is the probability that the next change falls k steps after this one when this one falls evenly within its
/// step; the planned change at T is spread over the two nearest steps so that its mean is kept.
#[derive(Debug)]
pub(super) struct Renewal {
    /// Changes on plan and after failure, by steps since the change; index 0 is the same step.
    planned: Vec<f64>,
    failed: Vec<f64>,
    /// `reach[n][k]`: probability of at least n further changes within the k steps after a change.
    reach: Vec<Vec<f64>>,
    /// Mean planned and failure changes within the k steps after a change.
    mean_planned: Vec<f64>,
    mean_failed: Vec<f64>,
}

impl Renewal {
    /// Changes up to `steps` steps of `step_hours` each, with planned age `planned_age`.
    pub(super) fn new(curve: &mut WorldCurve, planned_age: f64, step_hours: f64, steps: usize) -> Result<Self> {
        let ages: Vec<f64> = (1..=steps + 1).map(|k| k as f64 * step_hours).take_while(|a| *a < planned_age).collect();
        curve.remember(&ages)?;
        let mut exposure = Vec::with_capacity(steps + 2);
        let at_plan = curve.up_to(planned_age)?;
        exposure.push(0.0);
        for k in 1..=steps + 1 {
            let age = k as f64 * step_hours;
            exposure.push(if age < planned_age { curve.up_to(age)?.exposure_hours } else { at_plan.exposure_hours });
        }
        let get = |k: usize| exposure.get(k).copied().unwrap_or(at_plan.exposure_hours);
        let mut planned = vec![0.0; steps + 1];
        let mut failed = vec![0.0; steps + 1];
        for k in 0..=steps {
            let ahead = get(k + 1) - get(k);
            let behind = if k == 0 { step_hours } else { get(k) - get(k - 1) };
            let all = ((behind - ahead) / step_hours).max(0.0);
            let plan = at_plan.reliability * (1.0 - (planned_age / step_hours - k as f64).abs()).max(0.0);
            if let (Some(p), Some(f)) = (planned.get_mut(k), failed.get_mut(k)) {
                *p = plan.min(all);
                *f = (all - plan).max(0.0);
            }
        }
        let mut renewal =
            Self { planned, failed, reach: Vec::new(), mean_planned: Vec::new(), mean_failed: Vec::new() };
        let next = renewal.next();
        renewal.reach = all_reach(&next)?;
        renewal.mean_planned = cumulated(&solve(&next, &renewal.planned));
        renewal.mean_failed = cumulated(&solve(&next, &renewal.failed));
        Ok(renewal)
    }

    /// Chances that the next change falls 0, 1, 2, ... steps after a change.
    pub(super) fn next(&self) -> Vec<f64> {
        self.planned.iter().zip(&self.failed).map(|(p, f)| p + f).collect()
    }

    /// Mean changes in the step of a change, itself included, and in the steps after it.
    pub(super) fn changes_at(&self) -> Vec<f64> {
        let next = self.next();
        let mut itself = vec![0.0; next.len()];
        if let Some(first) = itself.first_mut() {
            *first = 1.0;
        }
        solve(&next, &itself)
    }

    /// Probabilities of at least n further changes within 0, 1, 2, ... steps after a change.
    pub(super) fn reach(&self, n: usize) -> &[f64] {
        self.reach.get(n).map_or(&[], Vec::as_slice)
    }

    /// Mean further planned, and failure, changes within 0, 1, 2, ... steps after a change.
    pub(super) fn mean_tables(&self) -> (&[f64], &[f64]) {
        (&self.mean_planned, &self.mean_failed)
    }

    /// Probability of at least n further changes after one whose place is known exactly, `elapsed` steps before the end.
    pub(super) fn at_least_exact(&self, n: usize, elapsed: f64) -> f64 {
        if n == 0 { 1.0 } else { self.reach.get(n).map_or(0.0, |r| placed(r, elapsed, 0.0)) }
    }

    /// Mean further (planned, failure) changes after a change whose place is known exactly.
    pub(super) fn means_exact(&self, elapsed: f64) -> (f64, f64) {
        (placed(&self.mean_planned, elapsed, 0.0), placed(&self.mean_failed, elapsed, 0.0))
    }

    /// Most further changes that are not negligible.
    pub(super) fn most(&self) -> usize {
        self.reach.len() - 1
    }

    /// Probabilities of at least n = 1, 2, ... changes within a window of `width` steps that begins `k` steps after a
    /// change, for every k: `[n - 1][k]`.
    pub(super) fn windows(&self, width: usize) -> Vec<Vec<f64>> {
        let next = self.next();
        let steps = next.len().saturating_sub(width);
        let known = support(&next);
        let mut windows = Vec::new();
        for n in 0..self.most() {
            // The first change inside the window comes straight from the change at 0 ...
            let reach = self.reach.get(n).map_or(&[] as &[f64], Vec::as_slice);
            let inside = reach.get(..width).unwrap_or(reach);
            let ahead = |k: usize| known.get(k + 1..(k + width + 1).min(known.len())).unwrap_or(&[]);
            let straight: Vec<f64> = (0..steps).map(|k| mirrored(ahead(k), inside)).collect();
            // ... or after others before the window.
            let window = solve(&next, &straight);
            if window.iter().all(|p| *p < NEGLIGIBLE) {
                break;
            }
            windows.push(window);
        }
        windows
    }
}

/// Chance below which that of one more change is not worked out: far below what rounding leaves of any figure, and on the
/// way to 0 lie numbers so small that arithmetic slows down a hundredfold, in a forecast of years most of them.
const NOTHING: f64 = 1e-40;

/// Probabilities of at least n = 0, 1, 2, ... further changes within k steps, `[n][k]`.
fn all_reach(next: &[f64]) -> Result<Vec<Vec<f64>>> {
    let mut reach = vec![vec![1.0; next.len()]];
    let known = support(next);
    loop {
        let last = reach.last().map_or(&[] as &[f64], Vec::as_slice);
        // At least n + 1 within k steps: the next change after j <= k steps, then at least n within k - j. Never likelier
        // than at least n, and once all of these are alike their sum is too: each n has few steps of its own.
        let begins = last.partition_point(|p| *p < NOTHING);
        let alike = last.iter().rposition(|p| Some(p) != last.last()).map_or(0, |i| i + 1);
        let settles = (alike + known.len()).clamp(begins, next.len());
        let mut more = vec![0.0; begins];
        more.extend((begins..settles).map(|k| convolved(known, last, k).min(1.0)));
        more.resize(next.len(), more.last().copied().unwrap_or(0.0));
        if more.last().is_none_or(|p| *p < NEGLIGIBLE) {
            return Ok(reach);
        }
        if reach.len() > MOST_CHANGES {
            let problem = Problem::new("demand.too_many_changes", "one screen would need hundreds of lamps")
                .got(reach.len())
                .expected("a planned age and a horizon of the same order");
            return Err(Error::new(Kind::Refused, problem));
        }
        reach.push(more);
    }
}

/// Solves `x_k = given_k + sum_{j = 0..k} next_j x_{k - j}`: what follows a change, with further changes in between.
fn solve(next: &[f64], given: &[f64]) -> Vec<f64> {
    let same = 1.0 - at(next, 0);
    let next = support(next);
    let mut x: Vec<f64> = Vec::with_capacity(given.len());
    for (k, g) in given.iter().enumerate() {
        let later = mirrored(next.get(1..next.len().min(k + 1)).unwrap_or(&[]), &x);
        x.push((g + later) / same);
    }
    x
}

/// A list without the zeros at its end: no lamp outlasts its planned age, however far the steps go.
fn support(list: &[f64]) -> &[f64] {
    let end = list.iter().rposition(|p| *p != 0.0).map_or(0, |last| last + 1);
    list.get(..end).unwrap_or(list)
}

/// Sum over j = 0..k of `next_j last_{k - j}`.
fn convolved(next: &[f64], last: &[f64], k: usize) -> f64 {
    mirrored(next.get(..=k).unwrap_or(next), last.get(..=k).unwrap_or(last))
}

/// Value after exactly `elapsed` steps from a table whose entry k stands for a change spread evenly within its step,
/// that is for k + 1/2 steps on the mean; `start` is the value at 0.
pub(super) fn placed(table: &[f64], elapsed: f64, start: f64) -> f64 {
    let x = elapsed - 0.5;
    if x < 0.0 {
        return start + (at(table, 0) - start) * 2.0 * elapsed.max(0.0);
    }
    let below = x.floor();
    let (low, high) = (at(table, below as usize), table.get(below as usize + 1).copied());
    low + (x - below) * (high.unwrap_or(low) - low)
}

fn cumulated(each: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    each.iter()
        .map(|x| {
            sum += x;
            sum
        })
        .collect()
}

fn at(values: &[f64], k: usize) -> f64 {
    values.get(k).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every chance as the sum over all steps gives it: what is left out below and copied above changes no figure.
    #[test]
    fn chances_of_further_changes_are_those_of_the_whole_sum() {
        let next: Vec<f64> = (0..600)
            .map(|k| match k {
                1..60 => 0.006 * f64::from(k) / 60.0,
                60 | 61 => 0.4115,
                _ => 0.0,
            })
            .collect();
        assert!((next.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        let reach = all_reach(&next).unwrap();
        let mut whole = vec![1.0; next.len()];
        for (n, row) in reach.iter().enumerate() {
            for (k, (got, expected)) in row.iter().zip(&whole).enumerate() {
                assert!((got - expected).abs() <= 1e-38, "{n} {k}: {got} {expected}");
                assert!(got.to_bits() == expected.to_bits() || *expected < 1e-20, "{n} {k}: {got} {expected}");
            }
            whole = (0..next.len()).map(|k| convolved(support(&next), &whole, k).min(1.0)).collect();
        }
        assert!(reach.len() > 9 && whole.last().is_some_and(|p| *p < NEGLIGIBLE), "{}", reach.len());
    }
}
