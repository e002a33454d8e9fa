//! The partial likelihood by one sweep from the oldest age down, with Efron's treatment of ties.
//!
//! ```text
//! at a failure age with d failures:  sum of eta - sum over l = 0 .. d - 1 of ln(S - (l / d) D)
//! S: sum of exp(eta) over lamps at risk, D: over those that fail there
//! ```
//! As a surface it leaves out [`Risk::ties`].

use std::collections::BTreeMap;

use super::shares::Shares;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::special::ln_gamma;
use crate::family::Order;
use crate::fit::covariates::Design;
use crate::fit::newton::{Point, Surface};
use crate::fit::sample::{Evidence, Sample};
use crate::lives::{Group, Tally};
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

/// The stratum of each group by the covariates named.
fn labels(tally: &Tally, by: &[String]) -> Result<Vec<String>> {
    let mut places = Vec::new();
    for name in by {
        let Some(found) = tally.category_place(name) else {
            let problem = Problem::new("fit.strata_unknown", "no such category to keep apart")
                .at(Place::input("strata").column(name))
                .got(name)
                .expected("categories of the lives, or stratum for their own strata");
            return Err(Error::new(Kind::Input, problem));
        };
        places.push(found);
    }
    let one = |g: &Group| places.iter().map(|place| g.level(*place)).collect::<Vec<_>>().join(", ");
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

    /// What the ways to order the lamps that fail together add to the partial likelihood: it does not depend on the
    /// coefficients, and beside it the part that does would lose its digits.
    pub(super) fn ties(&self) -> f64 {
        let mut out = 0.0;
        for stratum in &self.strata {
            for tied in stratum.rows.chunk_by(|a, b| a.exit == b.exit) {
                let failed: u64 = tied.iter().filter(|r| r.failed).map(|r| r.count).sum();
                out -= ln_gamma(failed as f64 + 1.0);
            }
        }
        out
    }

    /// Visits every failure age of a stratum, oldest first, with the sums over the lamps at risk there.
    pub(super) fn sweep(&self, stratum: &Stratum, hazards: &[(f64, f64)], order: Order, mut visit: impl FnMut(&Tied)) {
        let q = self.spread.len();
        let rows = &stratum.rows;
        // Those that go on are summed apart from those that fail: a difference would lose the few that are left.
        let mut rest = Sums::new(q);
        let mut failing = Sums::new(q);
        let mut removed = 0;
        for tied in rows.chunk_by(|a, b| a.exit == b.exit) {
            let age = tied[0].exit;
            for r in tied.iter().filter(|r| !r.failed) {
                rest.add(r.count as f64 * hazards[r.group].0, self.matrix[r.group].iter().copied(), order);
            }
            let failed: u64 = tied.iter().filter(|r| r.failed).map(|r| r.count).sum();
            let Some(most) = tied.iter().filter(|r| r.failed).max_by_key(|r| r.count) else { continue };
            while removed < stratum.late.len() && rows[stratum.late[removed]].entry >= age {
                let r = &rows[stratum.late[removed]];
                rest.remove(r.count as f64 * hazards[r.group].0, &self.matrix[r.group], order);
                removed += 1;
            }
            // From the largest row on, so that a few beside very many keep their digits.
            let centre = &self.matrix[most.group];
            failing.clear();
            for r in tied.iter().filter(|r| r.failed) {
                let columns = self.matrix[r.group].iter().zip(centre).map(|(z, c)| z - c);
                failing.add(r.count as f64 * hazards[r.group].0, columns, order);
            }
            let to_rest = if rest.rows == 0 {
                vec![0.0; q]
            } else {
                (0..q).map(|i| rest.mean[i] - (centre[i] + failing.mean[i])).collect()
            };
            visit(&Tied { age, failed, rows: tied, most, centre, rest: &rest, failing: &failing, to_rest });
            for r in tied.iter().filter(|r| r.failed) {
                rest.add(r.count as f64 * hazards[r.group].0, self.matrix[r.group].iter().copied(), order);
            }
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

/// Sum of exp(eta), and by it the mean columns and the sums of products of columns less their means.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    rows: usize,
    plain: f64,
    mean: Vec<f64>,
    second: Vec<f64>,
    step: Vec<f64>,
}

impl Sums {
    fn new(q: usize) -> Self {
        let second = vec![0.0; q * (q + 1) / 2];
        Self { rows: 0, plain: 0.0, mean: vec![0.0; q], second, step: vec![0.0; q] }
    }

    fn clear(&mut self) {
        (self.rows, self.plain) = (0, 0.0);
        self.mean.fill(0.0);
        self.second.fill(0.0);
    }

    fn add(&mut self, w: f64, z: impl Iterator<Item = f64>, order: Order) {
        self.rows += 1;
        self.shift(w, z, order);
    }

    fn remove(&mut self, w: f64, z: &[f64], order: Order) {
        self.rows -= 1;
        // What rounding leaves of nobody would count as somebody.
        if self.rows == 0 || self.plain <= w {
            let rows = self.rows;
            self.clear();
            self.rows = rows;
            return;
        }
        self.shift(-w, z.iter().copied(), order);
    }

    /// The new sums from the old ones, without a difference of two large sums.
    fn shift(&mut self, w: f64, z: impl Iterator<Item = f64>, order: Order) {
        let before = self.plain;
        self.plain += w;
        if order < Order::Gradient {
            return;
        }
        for ((step, mean), z) in self.step.iter_mut().zip(&mut self.mean).zip(z) {
            *step = z - *mean;
            *mean += *step * (w / self.plain);
        }
        if order >= Order::Hessian {
            let part = w * (before / self.plain);
            let mut slots = self.second.iter_mut();
            for (i, a) in self.step.iter().enumerate() {
                for (b, slot) in self.step.iter().take(i + 1).zip(&mut slots) {
                    *slot += part * a * b;
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
    /// The row with the most failures, and its columns.
    most: &'a Stretch,
    centre: &'a [f64],
    /// Over the lamps at risk that go on.
    rest: &'a Sums,
    /// Over those that fail, columns less `centre`.
    failing: &'a Sums,
    /// From the mean columns of those that fail to those of the lamps that go on.
    to_rest: Vec<f64>,
}

impl Tied<'_> {
    pub(super) fn shares(&self) -> Shares {
        Shares::of(self.failed, self.rest.plain, self.failing.plain)
    }

    /// With weights of the tied failures that add up to `all`, and to `others` over the part of the lamps that go on: the
    /// sum of weight times the mean columns at risk.
    fn weighted(&self, all: f64, others: f64) -> Vec<f64> {
        let each = self.centre.iter().zip(&self.failing.mean).zip(&self.to_rest);
        each.map(|((centre, mean), to)| all * (centre + mean) + others * to).collect()
    }

    /// Mean columns at risk, on average over the tied failures.
    pub(super) fn mean(&self, s: &Shares) -> Vec<f64> {
        self.weighted(1.0, s.others() / self.failed as f64)
    }

    /// Sum over the tied failures of the mean columns at risk, each divided by S.
    pub(super) fn means_by_risk(&self, s: &Shares) -> Vec<f64> {
        self.weighted(s.one / s.unit, s.rest * (s.one_squared / s.unit))
    }

    /// The same with the share m / d that one of those who fail bears.
    pub(super) fn means_borne(&self, s: &Shares) -> Vec<f64> {
        let d = self.failed as f64;
        self.weighted(s.part / s.unit / d, s.rest * (s.part_squared / s.unit) / d)
    }

    /// The partial log-likelihood of this age but for the part of [`Risk::ties`].
    fn value(&self, s: &Shares, hazards: &[(f64, f64)]) -> f64 {
        let d = self.failed as f64;
        let (mut sum, mut beyond) = (0.0, 0.0);
        for r in self.rows.iter().filter(|r| r.failed) {
            let (w, above) = (r.count as f64, hazards[r.group].1 - hazards[self.most.group].1);
            sum += w * above;
            beyond += w / d * above.exp_m1();
        }
        sum - d * beyond.ln_1p() - s.ln
    }

    /// Adds `factor` times the slope: columns of those that fail less the mean columns at risk.
    pub(super) fn add_slope(&self, s: &Shares, matrix: &[Vec<f64>], factor: f64, out: &mut [f64]) {
        let (d, others) = (self.failed as f64, s.others());
        for (i, slope) in out.iter_mut().enumerate() {
            let rows = self.rows.iter().filter(|r| r.failed);
            let columns = rows.map(|r| r.count as f64 * (matrix[r.group][i] - self.centre[i])).fold(0.0, |a, x| a + x);
            *slope += factor * (columns - d * self.failing.mean[i] - others * self.to_rest[i]);
        }
    }

    /// Adds what this age says of the coefficients: the packed information. It is the spread of columns among the lamps
    /// that go on, among those that fail, and between the two.
    pub(super) fn add_information(&self, s: &Shares, factor: f64, out: &mut [f64]) {
        let among = if self.rest.rows == 0 { 0.0 } else { s.one / s.unit };
        let (within, between) = (s.part / self.failing.plain, s.between());
        for i in 0..self.to_rest.len() {
            for j in 0..=i {
                let k = packed(i, j);
                let apart = between * self.to_rest[i] * self.to_rest[j];
                out[k] += factor * (self.rest.second[k] * among + self.failing.second[k] * within + apart);
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
                out.value += tied.value(&shares, &hazards);
                if order >= Order::Gradient {
                    tied.add_slope(&shares, &self.matrix, 1.0, &mut out.gradient);
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
