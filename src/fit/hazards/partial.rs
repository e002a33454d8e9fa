//! The partial likelihood by one sweep from the oldest age down, with Efron's treatment of ties.
//!
//! ```text
//! at a failure age with d failures:  sum of eta - sum over l = 0 .. d - 1 of ln(S - (l / d) D)
//! S: sum of exp(eta) over lamps at risk, D: over those that fail there
//! ```

use std::collections::BTreeMap;

use super::shares::Shares;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::linalg::packed;
use crate::family::Order;
use crate::fit::covariates::Design;
use crate::fit::newton::{Point, Surface};
use crate::fit::sample::{Evidence, Sample};
use crate::lives::{CovariateKind, Group, Tally};
use crate::records::Ending;

/// What to do about failures known to an interval.
const INTERVALS: &str = "accelerated-life regression takes intervals as they are";

/// Largest |eta|: beyond it hazards overflow.
const FARTHEST: f64 = 300.0;

/// One row of lives under observation over (entry, exit].
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub(super) group: usize,
    pub(super) entry: f64,
    pub(super) exit: f64,
    pub(super) failed: bool,
    pub(super) count: u64,
}

/// The rows of one stratum, oldest exit first, and the same by entry.
#[derive(Debug)]
pub(super) struct Stratum {
    pub(super) name: String,
    pub(super) rows: Vec<Stretch>,
    /// Places in `rows`, latest entry first; those that entered at 0 are left out.
    late: Vec<usize>,
}

/// Lives ready for the sweep.
#[derive(Debug)]
pub(super) struct Risk {
    pub(super) strata: Vec<Stratum>,
    /// Columns of each group in units of `spread`.
    pub(super) matrix: Vec<Vec<f64>>,
    pub(super) spread: Vec<f64>,
}

/// The name that stands for the strata of the tally itself.
pub(super) const STRATUM: &str = "stratum";

/// The stratum of each group by the covariates named.
fn labels(tally: &Tally, by: &[String]) -> Result<Vec<String>> {
    let mut places = Vec::new();
    for name in by {
        let found = tally.covariates().iter().position(|c| c.name == *name && c.kind == CovariateKind::Category);
        if found.is_none() && name != STRATUM {
            let problem = Problem::new("fit.strata_unknown", "no such category to keep apart")
                .at(Place::input("strata").column(name))
                .got(name)
                .expected("categories of the lives, or stratum for their own strata");
            return Err(Error::new(Kind::Input, problem));
        }
        places.push(found);
    }
    let one = |g: &Group| {
        let parts = places.iter().map(|place| match place {
            None => g.stratum.clone(),
            Some(k) => g.covariates.get(*k).map(ToString::to_string).unwrap_or_default(),
        });
        parts.collect::<Vec<_>>().join(", ")
    };
    Ok(tally.groups().iter().map(one).collect())
}

impl Risk {
    pub(super) fn new(tally: &Tally, endings: Option<&[Ending]>, by: &[String], design: &Design) -> Result<Self> {
        let sample = Sample::new(tally, endings, None)?;
        let mut matrix = design.matrix(tally)?;
        let labels = labels(tally, by)?;
        let mut strata: BTreeMap<&str, Vec<Stretch>> = BTreeMap::new();
        let mut problems = Vec::new();
        for (row, &count) in tally.count().iter().enumerate().filter(|(_, count)| **count > 0) {
            let group = tally.group()[row] as usize;
            let here = sample.row(row);
            let place = Tally::place(row, "low");
            let (exit, failed) = match here.evidence {
                Evidence::Exact(age) => (age, true),
                Evidence::Passed(age) => (age, false),
                Evidence::Between(low, high) => {
                    let what = "a failure known to an interval has no place among the ages at risk";
                    let problem = Problem::new("fit.hazards_interval", what).at(place.column("high"));
                    problems.push(problem.got(format!("({low}, {high}]")).expected("failures at an age of their own"));
                    continue;
                }
            };
            if here.upper < f64::INFINITY {
                let what = "records that show failures only do not say who was at risk";
                let problem = Problem::new("fit.hazards_window", what).at(place.column("upper"));
                problems.push(problem.got(here.upper).expected("rows without upper, or the lamps shipped with them"));
                continue;
            }
            let stretch = Stretch { group, entry: here.entry, exit, failed, count };
            strata.entry(&labels[group]).or_default().push(stretch);
        }
        if !problems.is_empty() {
            let intervals = problems.iter().any(|p| p.slug == "fit.hazards_interval");
            let error = Error::many(Kind::Refused, problems);
            return Err(if intervals { error.with_hint(INTERVALS) } else { error });
        }
        let strata: Vec<Stratum> = strata
            .into_iter()
            .map(|(name, mut rows)| {
                // The tally is in canonical order, so a stable sort keeps one order for equal ages.
                rows.sort_by(|a, b| b.exit.total_cmp(&a.exit));
                let mut late: Vec<usize> = (0..rows.len()).filter(|i| rows[*i].entry > 0.0).collect();
                late.sort_by(|a, b| rows[*b].entry.total_cmp(&rows[*a].entry));
                Stratum { name: name.to_owned(), rows, late }
            })
            .collect();
        let spread = spread(&matrix, &strata, design.columns.len());
        for row in &mut matrix {
            row.iter_mut().zip(&spread).for_each(|(z, s)| *z /= s);
        }
        Ok(Self { strata, matrix, spread })
    }

    pub(super) fn failures(&self) -> u64 {
        self.strata.iter().flat_map(|s| &s.rows).filter(|r| r.failed).map(|r| r.count).sum()
    }

    /// exp(eta) of each group, and eta.
    pub(super) fn hazards(&self, b: &[f64]) -> Vec<(f64, f64)> {
        let eta = |z: &Vec<f64>| z.iter().zip(b).map(|(z, b)| z * b).fold(0.0, |a, x| a + x);
        self.matrix.iter().map(eta).map(|eta| (eta.exp(), eta)).collect()
    }

    /// Visits every failure age of a stratum, oldest first, with the sums over the lamps at risk there.
    pub(super) fn sweep(&self, stratum: &Stratum, hazards: &[(f64, f64)], order: Order, mut visit: impl FnMut(&Tied)) {
        let q = self.spread.len();
        let rows = &stratum.rows;
        let mut at_risk = Sums::new(q);
        let mut failing = Sums::new(q);
        let (mut added, mut removed, mut here) = (0, 0, 0);
        while here < rows.len() {
            let age = rows[here].exit;
            let mut to = here;
            while to < rows.len() && rows[to].exit == age {
                to += 1;
            }
            let tied = &rows[here..to];
            here = to;
            while added < to {
                let r = &rows[added];
                at_risk.add(r.count as f64 * hazards[r.group].0, &self.matrix[r.group], order);
                added += 1;
            }
            let failed: u64 = tied.iter().filter(|r| r.failed).map(|r| r.count).sum();
            if failed == 0 {
                continue;
            }
            while removed < stratum.late.len() && rows[stratum.late[removed]].entry >= age {
                let r = &rows[stratum.late[removed]];
                at_risk.add(-(r.count as f64) * hazards[r.group].0, &self.matrix[r.group], order);
                removed += 1;
            }
            failing.clear();
            for r in tied.iter().filter(|r| r.failed) {
                failing.add(r.count as f64 * hazards[r.group].0, &self.matrix[r.group], order);
            }
            visit(&Tied { age, failed, rows: tied, at_risk: &at_risk, failing: &failing });
        }
    }
}

fn spread(matrix: &[Vec<f64>], strata: &[Stratum], columns: usize) -> Vec<f64> {
    let rows = || strata.iter().flat_map(|s| &s.rows).map(|r| (r.count as f64, &matrix[r.group]));
    let all = rows().map(|r| r.0).fold(0.0, |a, b| a + b);
    (0..columns)
        .map(|j| {
            let mean = rows().map(|(w, z)| w * z[j]).fold(0.0, |a, b| a + b) / all;
            let square = rows().map(|(w, z)| w * (z[j] - mean).powi(2)).fold(0.0, |a, b| a + b) / all;
            if square > 0.0 { square.sqrt() } else { 1.0 }
        })
        .collect()
}

/// Sums of exp(eta), of it times the columns, and of it times their products.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    pub(super) plain: f64,
    pub(super) first: Vec<f64>,
    pub(super) second: Vec<f64>,
}

impl Sums {
    fn new(q: usize) -> Self {
        Self { plain: 0.0, first: vec![0.0; q], second: vec![0.0; q * (q + 1) / 2] }
    }

    fn clear(&mut self) {
        self.plain = 0.0;
        self.first.fill(0.0);
        self.second.fill(0.0);
    }

    fn add(&mut self, w: f64, z: &[f64], order: Order) {
        self.plain += w;
        if order >= Order::Gradient {
            self.first.iter_mut().zip(z).for_each(|(sum, z)| *sum += w * z);
        }
        if order >= Order::Hessian {
            let mut slots = self.second.iter_mut();
            for (i, a) in z.iter().enumerate() {
                for (b, slot) in z.iter().take(i + 1).zip(&mut slots) {
                    *slot += w * a * b;
                }
            }
        }
    }
}

/// One failure age.
pub(super) struct Tied<'a> {
    pub(super) age: f64,
    pub(super) failed: u64,
    /// Rows that end at the age, whether failed or not.
    pub(super) rows: &'a [Stretch],
    at_risk: &'a Sums,
    failing: &'a Sums,
}

impl Tied<'_> {
    pub(super) fn shares(&self) -> Shares {
        Shares::of(self.failed, self.at_risk.plain, self.failing.plain)
    }

    /// Sum over the tied failures of the mean columns at risk.
    pub(super) fn means(&self, s: &Shares) -> Vec<f64> {
        self.at_risk.first.iter().zip(&self.failing.first).map(|(a, d)| a * s.one - d * s.part).collect()
    }

    /// Sum over the tied failures of the mean columns at risk, each divided by S.
    pub(super) fn means_by_risk(&self, s: &Shares) -> Vec<f64> {
        let each = self.at_risk.first.iter().zip(&self.failing.first);
        each.map(|(a, d)| a * s.one_squared - d * s.part_squared).collect()
    }

    /// The same with the share that those who fail do not bear: sum of f times mean over S.
    pub(super) fn means_by_part(&self, s: &Shares) -> Vec<f64> {
        let each = self.at_risk.first.iter().zip(&self.failing.first);
        each.map(|(a, d)| a * s.part_squared - d * s.parts_squared).collect()
    }

    /// Adds what this age says of the coefficients: the packed information.
    pub(super) fn add_information(&self, s: &Shares, factor: f64, out: &mut [f64]) {
        let (a, d) = (self.at_risk, self.failing);
        for i in 0..a.first.len() {
            for j in 0..=i {
                let k = packed(i, j);
                let square = a.first[i] * a.first[j] * s.one_squared
                    - (a.first[i] * d.first[j] + d.first[i] * a.first[j]) * s.part_squared
                    + d.first[i] * d.first[j] * s.parts_squared;
                out[k] += factor * (a.second[k] * s.one - d.second[k] * s.part - square);
            }
        }
    }
}

impl Surface for Risk {
    fn width(&self) -> usize {
        self.spread.len()
    }

    fn at(&self, b: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let hazards = self.hazards(b);
        (out.value, out.gradient, out.hessian) = (0.0, vec![0.0; b.len()], vec![0.0; b.len() * (b.len() + 1) / 2]);
        for stratum in &self.strata {
            self.sweep(stratum, &hazards, order, |tied| {
                let shares = tied.shares();
                out.value -= shares.ln;
                for r in tied.rows.iter().filter(|r| r.failed) {
                    let w = r.count as f64;
                    out.value += w * hazards[r.group].1;
                    out.gradient.iter_mut().zip(&self.matrix[r.group]).for_each(|(g, z)| *g += w * z);
                }
                if order >= Order::Gradient {
                    out.gradient.iter_mut().zip(tied.means(&shares)).for_each(|(g, m)| *g -= m);
                }
                if order >= Order::Hessian {
                    tied.add_information(&shares, -1.0, &mut out.hessian);
                }
            });
        }
        Ok(())
    }

    fn inside(&self, b: &[f64]) -> bool {
        self.hazards(b).iter().all(|h| h.1.abs() < FARTHEST)
    }
}
