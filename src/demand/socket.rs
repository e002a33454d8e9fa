//! The number of changes of one screen in each period, from the age of the lamp that burns there today.

use super::renewal::{Renewal, mirrored, placed};
use crate::policy::WorldCurve;

/// Chances of at least 1, 2, ... changes by period and cumulated, and mean changes.
#[derive(Clone, Debug, Default)]
pub(super) struct Changes {
    /// `[period][n - 1]`: at least n changes in the period.
    pub(super) in_period: Vec<Vec<f64>>,
    /// `[period][n - 1]`: at least n changes by the end of the period.
    pub(super) by_end: Vec<Vec<f64>>,
    /// Mean (planned, failure) changes by the end of each period.
    pub(super) means: Vec<(f64, f64)>,
}

/// Chance below which a further change of the same screen is left out.
pub(super) const NEGLIGIBLE: f64 = 1e-17;

/// The grid shared by screens that burn the same hours a week.
#[derive(Debug)]
pub(super) struct Grid {
    pub(super) renewal: Renewal,
    pub(super) windows: Vec<Vec<f64>>,
    pub(super) step_hours: f64,
    pub(super) steps_per_period: usize,
    pub(super) periods: usize,
}

impl Grid {
    /// Changes of a screen whose lamp of age `age`, below the planned age, burns now. The first change is exact; the
    /// n-th is placed to within n steps of the clock.
    pub(super) fn changes(&self, curve: &WorldCurve, age: f64, planned_age: f64) -> Changes {
        let steps = self.steps_per_period * self.periods;
        let now = curve.ln_reliability(age);
        let pass = |later: f64| (curve.ln_reliability(later) - now).exp().min(1.0);
        let left = planned_age - age;
        // First change: failures by step, and the planned one at its place.
        let mut first = Vec::with_capacity(steps);
        let mut first_planned = None;
        let mut before = 1.0;
        for i in 1..=steps {
            let burned = i as f64 * self.step_hours;
            let end = burned.min(left);
            let after = pass(age + end);
            first.push((before - after).max(0.0));
            before = after;
            if burned >= left {
                // The planned change stands at an exact place of the clock, in steps.
                first_planned = Some((left / self.step_hours, after));
                break;
            }
        }
        let mut changes = Changes::default();
        let width = self.steps_per_period;
        for m in 1..=self.periods {
            let (from, to) = ((m - 1) * width, m * width);
            let (earlier, inside) = first.split_at(from.min(first.len()));
            let inside = inside.get(..width).unwrap_or(inside);
            let mut in_period = Vec::new();
            let mut by_end = Vec::new();
            let planned = first_planned.filter(|(place, _)| *place <= to as f64);
            // More changes in the period are never likelier, so that the first negligible number ends the list.
            let mut in_reach = true;
            for n in 0..=self.renewal.most() {
                let reach = self.renewal.reach(n);
                let fresh = mirrored(inside, head(reach, width));
                let before = mirrored(earlier, head(reach, to));
                let mut by_it = fresh + before;
                let planned_by = planned.map(|(place, p)| p * self.renewal.at_least_exact(n, to as f64 - place));
                by_it += planned_by.unwrap_or(0.0);
                if in_reach {
                    let window = self.windows.get(n);
                    let later = window.map_or(0.0, |w| mirrored(earlier, head(w, from)));
                    let mut in_it = fresh + later;
                    if let Some((place, p)) = planned {
                        in_it += if place > from as f64 {
                            planned_by.unwrap_or(0.0)
                        } else {
                            let straight = self.renewal.at_least_exact(n + 1, width as f64);
                            p * window.map_or(0.0, |w| placed(w, from as f64 - place, straight))
                        };
                    }
                    in_reach = in_it >= NEGLIGIBLE;
                    if in_reach {
                        in_period.push(in_it.min(1.0));
                    }
                }
                if by_it < NEGLIGIBLE && !in_reach {
                    break;
                }
                by_end.push(by_it.min(1.0));
            }
            changes.in_period.push(in_period);
            changes.by_end.push(by_end);
            let (more_planned, more_failed) = self.renewal.mean_tables();
            let by_end_of_it = first.get(..to).unwrap_or(&first);
            let mut planned = mirrored(by_end_of_it, head(more_planned, to));
            let mut failed = by_end_of_it.iter().sum::<f64>() + mirrored(by_end_of_it, head(more_failed, to));
            if let Some((place, p)) = first_planned.filter(|(place, _)| *place <= to as f64) {
                let (later_planned, later_failed) = self.renewal.means_exact(to as f64 - place);
                planned += p * (1.0 + later_planned);
                failed += p * later_failed;
            }
            changes.means.push((planned, failed));
        }
        changes
    }
}

/// The first `k` entries.
fn head(table: &[f64], k: usize) -> &[f64] {
    table.get(..k).unwrap_or(table)
}
