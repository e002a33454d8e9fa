//! Several groups side by side: lamps at risk and failures of each at every age at which any of them failed.

use super::steps::late_entries;
use crate::lives::Tally;
use crate::records::Ending;

/// Columns by group, one entry for each age.
#[derive(Clone, Debug, Default)]
pub(super) struct RiskSets {
    pub ages: Vec<f64>,
    pub at_risk: Vec<Vec<u64>>,
    pub failures: Vec<Vec<u64>>,
    /// Failures by the asked cause; empty columns without one.
    pub by_cause: Vec<Vec<u64>>,
}

impl RiskSets {
    /// Of tallies without intervals, past an age (0 takes failures at age 0 too).
    pub fn of(groups: &[&Tally], from: f64, cause: Option<Ending>) -> Self {
        let failed = |t: &Tally| -> Vec<f64> {
            let rows = t.low().iter().zip(t.high()).zip(t.count());
            rows.filter(|&((low, high), n)| low == high && *n > 0).map(|((low, _), _)| *low).collect()
        };
        let mut ages: Vec<f64> = groups.iter().flat_map(|t| failed(t)).filter(|&a| from == 0.0 || a > from).collect();
        ages.sort_unstable_by(f64::total_cmp);
        ages.dedup();
        let mut sets = Self::default();
        for tally in groups {
            sets.add(tally, &ages, cause);
        }
        sets.ages = ages;
        sets
    }

    /// At risk at an age: entry < age <= exit.
    fn add(&mut self, tally: &Tally, ages: &[f64], cause: Option<Ending>) {
        let late = late_entries(tally);
        let mut entered = tally.lamps() - late.iter().map(|e| e.1).sum::<u64>();
        let mut waiting = late.into_iter().peekable();
        let (mut left, mut i) = (0, 0);
        let (mut at_risk, mut failures) = (vec![0; ages.len()], vec![0; ages.len()]);
        let mut by_cause = vec![0; if cause.is_some() { ages.len() } else { 0 }];
        for (j, &age) in ages.iter().enumerate() {
            while let Some((_, more)) = waiting.next_if(|e| e.0 < age) {
                entered += more;
            }
            while tally.low().get(i).is_some_and(|low| *low < age) {
                left += tally.count()[i];
                i += 1;
            }
            at_risk[j] = entered - left;
            while tally.low().get(i) == Some(&age) {
                let n = tally.count()[i];
                left += n;
                if tally.high()[i] == age {
                    failures[j] += n;
                    if cause.is_some_and(|c| c.code() == tally.ending()[i]) {
                        by_cause[j] += n;
                    }
                }
                i += 1;
            }
        }
        self.at_risk.push(at_risk);
        self.failures.push(failures);
        self.by_cause.push(by_cause);
    }

    /// One column added up over the groups.
    pub fn total(columns: &[Vec<u64>], j: usize) -> u64 {
        columns.iter().filter_map(|c| c.get(j)).sum()
    }
}
