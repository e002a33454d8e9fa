//! Lives read group by group, each row with the stratum whose baseline it has.

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::family::{Family, Jet, Life, Order, Term};
use crate::fit::sample::{Evidence, Sample};
use crate::lives::{Group, STRATUM, Tally};

use super::effect::Says;

/// The name that stands for the strata of the tally itself.
/// The name that stands for its clusters.
const CLUSTER: &str = "cluster";

/// One row: what it is evidence of, for which group, by which baseline.
#[derive(Clone, Copy, Debug)]
struct Line {
    group: usize,
    stratum: usize,
    count: f64,
    entry: f64,
    evidence: Evidence,
}

/// Everything the likelihood needs of the records.
#[derive(Debug)]
pub(super) struct Grouped<'a> {
    pub(super) family: &'a dyn Family,
    lines: Vec<Line>,
    pub(super) names: Vec<String>,
    pub(super) strata: Vec<String>,
    pub(super) lamps: Vec<u64>,
    pub(super) failures: Vec<u64>,
    /// Stratum of each group of the tally.
    stratum_of: Vec<usize>,
}

/// What a group says at a baseline, with the derivatives over its coordinates.
#[derive(Clone, Debug)]
pub(super) struct Slopes {
    pub(super) says: Says,
    /// Sum over exact failures of ln of the baseline hazard.
    pub(super) ln_hazard: Jet,
    pub(super) expected: Jet,
    pub(super) between: Vec<Jet>,
}

/// The categories by name: a covariate, the strata or the clusters.
fn labels(tally: &Tally, name: &str, argument: &str, slug: &'static str) -> Result<Vec<String>> {
    let place = tally.category_place(name);
    let read = |g: &Group| place.map_or_else(|| g.cluster.clone(), |place| g.level(place));
    if place.is_none() && name != CLUSTER {
        let known: Vec<&str> = tally.categories().chain([STRATUM, CLUSTER]).collect();
        let problem = Problem::new(slug, "no such category of the lives").at(Place::input(argument)).got(name);
        return Err(Error::new(Kind::Input, problem.expected(format!("one of: {}", known.join(", ")))));
    }
    Ok(tally.groups().iter().map(read).collect())
}

/// Distinct labels in order, and the place of each group's label among them.
fn distinct(labels: &[String]) -> (Vec<String>, Vec<usize>) {
    let mut names = labels.to_vec();
    names.sort_unstable();
    names.dedup();
    let places = labels.iter().map(|l| names.binary_search(l).unwrap_or(0)).collect();
    (names, places)
}

impl<'a> Grouped<'a> {
    /// Reads a tally by the category `by`, with one baseline for each combination of `strata`.
    pub(super) fn new(family: &'a dyn Family, sample: &Sample, by: &str, strata: Option<&[String]>) -> Result<Self> {
        let tally = sample.tally;
        let groups = labels(tally, by, "by", "fit.pooling_by")?;
        let stratum = [STRATUM.to_owned()];
        let apart = strata.unwrap_or(if by == STRATUM { &[] } else { &stratum });
        if apart.iter().any(|s| s == by) {
            let what = "a category cannot have a baseline of its own and be pooled: within it nothing varies";
            let problem = Problem::new("fit.pooling_strata", what).at(Place::input("strata")).got(by);
            return Err(Error::new(Kind::Input, problem.expected("one of the two")));
        }
        let columns =
            apart.iter().map(|s| labels(tally, s, "strata", "fit.pooling_strata")).collect::<Result<Vec<_>>>()?;
        let joined = (0..tally.groups().len())
            .map(|g| columns.iter().filter_map(|c| c.get(g).cloned()).collect::<Vec<_>>().join(", "))
            .collect();
        let used = used(tally, &groups)?;
        // Groups and strata that no lamp belongs to are left out.
        let keep = |labels: Vec<String>| -> Vec<String> {
            let first = labels.iter().zip(&used).find(|(_, used)| **used).map_or(String::new(), |(l, _)| l.clone());
            labels.into_iter().zip(&used).map(|(l, used)| if *used { l } else { first.clone() }).collect()
        };
        let (names, group_of) = distinct(&keep(groups));
        let (strata, stratum_of) = distinct(&keep(joined));
        let mut out = Self {
            family,
            lines: Vec::with_capacity(tally.rows()),
            lamps: vec![0; names.len()],
            failures: vec![0; names.len()],
            names,
            strata,
            stratum_of: stratum_of.clone(),
        };
        let mut problems = Vec::new();
        for (i, &count) in tally.count().iter().enumerate().filter(|(_, count)| **count > 0) {
            let row = sample.row(i);
            let at = tally.group()[i] as usize;
            let (group, stratum) = (group_of[at], stratum_of[at]);
            if row.upper < f64::INFINITY {
                let what = "records that show failures only do not say how many were at risk in a group";
                let place = Tally::place(i, "upper");
                let problem = Problem::new("fit.pooling_window", what).at(place).got(row.upper);
                problems.push(problem.expected("rows without upper, or the lamps shipped with them"));
            }
            out.lamps[group] += if tally.informs(i) { count } else { 0 };
            if !matches!(row.evidence, Evidence::Passed(_)) {
                out.failures[group] += count;
            }
            out.lines.push(Line { group, stratum, count: count as f64, entry: row.entry, evidence: row.evidence });
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Refused, problems));
        }
        // The tally is in canonical order, so a stable sort keeps one order of sums.
        out.lines.sort_by_key(|line| (line.stratum, line.group));
        Ok(out)
    }

    /// Coordinates of all baselines together.
    pub(super) fn width(&self) -> usize {
        self.family.width() * self.strata.len()
    }

    /// The rows of one stratum.
    pub(super) fn only(&self, tally: &Tally, stratum: usize) -> Tally {
        tally.of_groups(|g, _| self.stratum_of.get(g) == Some(&stratum))
    }

    /// Sum over exact failures of ln of the baseline hazard, and what each group says; none outside the domain.
    pub(super) fn says(&self, x: &[f64]) -> Option<(f64, Vec<Says>)> {
        let w = self.family.width();
        let lives = x.chunks(w).map(|c| self.family.at(c)).collect::<Result<Vec<Box<dyn Life>>>>().ok()?;
        let mut says = vec![Says::default(); self.names.len()];
        let mut ln_hazard = 0.0;
        for line in &self.lines {
            let life = lives.get(line.stratum)?;
            let group = says.get_mut(line.group)?;
            let entered = if line.entry > 0.0 { life.cumulative_hazard(line.entry) } else { 0.0 };
            let seen = match line.evidence {
                Evidence::Exact(age) => {
                    group.failures += line.count;
                    let passed = life.cumulative_hazard(age);
                    ln_hazard += line.count * (life.ln_density(age) + passed);
                    passed
                }
                Evidence::Passed(age) => self.passed_by(age, |age| life.cumulative_hazard(age)),
                Evidence::Between(low, high) => {
                    let passed = self.passed_by(low, |age| life.cumulative_hazard(age));
                    group.between.push((line.count, life.cumulative_hazard(high) - passed));
                    passed
                }
            };
            group.expected += line.count * (seen - entered);
        }
        Some((ln_hazard, says))
    }

    /// At age 0 a life above 0 has gone through nothing; one on all numbers has.
    fn passed_by(&self, age: f64, hazard: impl Fn(f64) -> f64) -> f64 {
        if age > 0.0 || self.family.below_zero() { hazard(age) } else { 0.0 }
    }

    /// The same with derivatives to the order asked.
    pub(super) fn slopes(&self, x: &[f64], order: Order) -> Vec<Slopes> {
        let (w, n) = (self.family.width(), self.width());
        let empty = || Slopes { says: Says::default(), ln_hazard: jet(n), expected: jet(n), between: Vec::new() };
        let mut groups: Vec<Slopes> = self.names.iter().map(|_| empty()).collect();
        let mut one = Jet::new(w);
        for line in &self.lines {
            let at = line.stratum * w;
            let here = &x[at..at + w];
            let group = &mut groups[line.group];
            let mut ask = |term, age, weight: f64, out: &mut Jet| {
                self.family.jet(here, age, term, order, &mut one);
                add(&one, w, at, weight, out);
            };
            let n_ = line.count;
            match line.evidence {
                Evidence::Exact(age) => {
                    group.says.failures += n_;
                    ask(Term::LnDensity, age, n_, &mut group.ln_hazard);
                    ask(Term::LnReliability, age, -n_, &mut group.ln_hazard);
                    ask(Term::LnReliability, age, -n_, &mut group.expected);
                }
                Evidence::Passed(age) => {
                    if age > 0.0 || self.family.below_zero() {
                        ask(Term::LnReliability, age, -n_, &mut group.expected);
                    }
                }
                Evidence::Between(low, high) => {
                    let mut across = jet(n);
                    ask(Term::LnReliability, high, -1.0, &mut across);
                    if low > 0.0 || self.family.below_zero() {
                        ask(Term::LnReliability, low, -n_, &mut group.expected);
                        ask(Term::LnReliability, low, 1.0, &mut across);
                    }
                    group.says.between.push((n_, across.value));
                    group.between.push(across);
                }
            }
            if line.entry > 0.0 {
                ask(Term::LnReliability, line.entry, n_, &mut group.expected);
            }
        }
        for group in &mut groups {
            group.says.expected = group.expected.value;
        }
        groups
    }
}

/// A jet over the coordinates alone, without a place for age.
fn jet(n: usize) -> Jet {
    Jet { value: 0.0, gradient: vec![0.0; n], hessian: vec![0.0; n * (n + 1) / 2] }
}

/// Adds a family's jet over its own coordinates, which start at `from` among all.
fn add(one: &Jet, w: usize, from: usize, weight: f64, out: &mut Jet) {
    out.value += weight * one.value;
    for i in 0..w {
        out.gradient[from + i] += weight * one.gradient[i];
        let (row, own) = ((from + i) * (from + i + 1) / 2 + from, i * (i + 1) / 2);
        for j in 0..=i {
            out.hessian[row + j] += weight * one.hessian[own + j];
        }
    }
}

/// Which groups of the tally hold lamps; refuses lamps without a name.
fn used(tally: &Tally, labels: &[String]) -> Result<Vec<bool>> {
    let mut lamps = vec![0_u64; labels.len()];
    for (group, count) in tally.group().iter().zip(tally.count()) {
        if let Some(slot) = lamps.get_mut(*group as usize) {
            *slot += count;
        }
    }
    let blank: u64 = labels.iter().zip(&lamps).filter(|(l, _)| l.trim().is_empty()).map(|(_, n)| n).sum();
    if blank > 0 {
        let what = "lamps that belong to no group by name";
        let problem = Problem::new("fit.pooling_name_blank", what).at(Place::input("by"));
        let problem = problem.got(counted(blank, "lamp")).expected("a name for each, or those lamps left out");
        return Err(Error::new(Kind::Input, problem));
    }
    Ok(lamps.iter().map(|n| *n > 0).collect())
}
