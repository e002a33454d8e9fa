//! Residuals of proportional hazards, and what robust standard errors are made of.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::model::{HazardFit, HazardOptions};
use super::partial::{Risk, Stratum};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours};
use crate::base::math::linalg::packed;
use crate::base::sound::{Checks, Sound};
use crate::family::Order;
use crate::fit::model::Facts;
use crate::fit::newton::{Point, Surface};
use crate::fit::sample::Sample;
use crate::fit::search::facts;
use crate::lives::Tally;

/// One row of the lives beside what the model expects of it, each figure for one lamp of the row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeResidual {
    /// Age at which the lamp came under observation, hours.
    pub entry: f64,
    /// Age at failure, or last age seen working, hours.
    pub age: f64,
    /// Whether it failed.
    pub failed: bool,
    /// Lamps.
    pub count: u64,
    /// Failures less failures expected: 0 or 1 less the hazard passed.
    pub martingale: f64,
    /// The same, drawn towards a bell shape: its square is what the lamp adds to the deviance.
    pub deviance: f64,
    /// What the lamp adds to the slope of the partial likelihood over each coefficient.
    pub score: Vec<f64>,
}

/// One row of failures beside the mean lamp at risk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FailureResidual {
    /// Age at failure, hours.
    pub age: f64,
    /// Stratum.
    pub stratum: String,
    /// Failures.
    pub count: u64,
    /// Columns of the lamp less their mean over the lamps at risk.
    pub plain: Vec<f64>,
    /// b plus failures times covariance times the plain residual: a reading of the coefficient at this age.
    pub scaled: Vec<f64>,
}

/// Residuals of a model of proportional hazards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CovariateResiduals {
    /// Names of the coefficients.
    pub coefficients: Vec<String>,
    /// Every row of the tally with lamps, stratum by stratum in the order of their names, oldest first.
    pub lives: Vec<LifeResidual>,
    /// Every row of failures, stratum by stratum, youngest first.
    pub failures: Vec<FailureResidual>,
}

impl Sound for CovariateResiduals {
    fn check(&self, c: &mut Checks) {
        let q = self.coefficients.len();
        for (i, r) in self.lives.iter().enumerate() {
            c.age(&format!("lives[{i}].entry"), r.entry, r.age);
            c.entries(&format!("lives[{i}].score"), r.score.len(), q);
            let most = f64::from(u8::from(r.failed));
            c.need(&format!("lives[{i}].martingale"), r.martingale <= most, r.martingale, format!("at most {most}"));
            c.equal(&format!("lives[{i}].deviance"), r.deviance, deviance(r.martingale, r.failed));
        }
        for (i, r) in self.failures.iter().enumerate() {
            c.not_negative(&format!("failures[{i}].age"), r.age);
            c.entries(&format!("failures[{i}].plain"), r.plain.len(), q);
            c.entries(&format!("failures[{i}].scaled"), r.scaled.len(), q);
        }
    }
}

fn deviance(martingale: f64, failed: bool) -> f64 {
    let d = f64::from(u8::from(failed));
    let log = if failed { (d - martingale).ln() } else { 0.0 };
    martingale.signum() * (-2.0 * (martingale + log)).max(0.0).sqrt()
}

/// Sums over the failure ages up to each, ascending.
struct Steps {
    ages: Vec<f64>,
    /// Sum of 1 / S, and of mean columns over S.
    hazard: Vec<f64>,
    mean: Vec<Vec<f64>>,
    /// At the age itself: what one that fails there bears, of both, and the mean columns at risk.
    borne: Vec<(f64, Vec<f64>, Vec<f64>)>,
}

fn steps(risk: &Risk, stratum: &Stratum, hazards: &[(f64, f64)]) -> Steps {
    let mut seen = Vec::new();
    risk.sweep(stratum, hazards, Order::Gradient, |tied| {
        let s = tied.shares();
        let borne = (s.part / s.unit / tied.failed as f64, tied.means_borne(&s), tied.mean(&s));
        seen.push((tied.age, s.one / s.unit, tied.means_by_risk(&s), borne));
    });
    seen.reverse();
    let mut out = Steps { ages: Vec::new(), hazard: Vec::new(), mean: Vec::new(), borne: Vec::new() };
    let (mut hazard, mut mean) = (0.0, vec![0.0; risk.spread.len()]);
    for (age, one, by_risk, borne) in seen {
        hazard += one;
        mean.iter_mut().zip(by_risk).for_each(|(sum, m)| *sum += m);
        out.ages.push(age);
        out.hazard.push(hazard);
        out.mean.push(mean.clone());
        out.borne.push(borne);
    }
    out
}

impl Steps {
    /// Failure ages at or before an age.
    fn to(&self, age: f64) -> usize {
        self.ages.partition_point(|a| *a <= age)
    }

    fn hazard_after(&self, steps: usize) -> f64 {
        steps.checked_sub(1).map_or(0.0, |i| self.hazard[i])
    }
}

/// Calls `take` with each row: its place in the tally, martingale and score, in units of the spread of the columns.
fn each_life(risk: &Risk, b: &[f64], mut take: impl FnMut(&super::partial::Stretch, f64, Vec<f64>)) {
    let hazards = risk.hazards(b);
    for stratum in &risk.strata {
        let steps = steps(risk, stratum, &hazards);
        for r in &stratum.rows {
            let (ratio, z) = (hazards[r.group].0, &risk.matrix[r.group]);
            // One that fails bears of the hazard of its own age what Efron's shares give it.
            let (from, to) = (steps.to(r.entry), steps.to(r.exit) - usize::from(r.failed));
            let mut passed = steps.hazard_after(to) - steps.hazard_after(from);
            let mut mean = vec![0.0; z.len()];
            for (place, sign) in [(to, 1.0), (from, -1.0)] {
                if let Some(i) = place.checked_sub(1) {
                    mean.iter_mut().zip(&steps.mean[i]).for_each(|(sum, m)| *sum += sign * m);
                }
            }
            let mut score = vec![0.0; z.len()];
            if r.failed {
                let (borne, by_share, centre) = &steps.borne[to];
                passed += borne;
                mean.iter_mut().zip(by_share).for_each(|(sum, m)| *sum += m);
                score.iter_mut().zip(z).zip(centre).for_each(|((s, z), m)| *s = z - m);
            }
            // A lamp that was never at risk passed nothing.
            let seen = r.exit > r.entry || r.failed;
            let passed = if seen { passed } else { 0.0 };
            if seen {
                score.iter_mut().zip(z).zip(&mean).for_each(|((s, z), m)| *s -= ratio * (z * passed - m));
            }
            take(r, f64::from(u8::from(r.failed)) - ratio * passed, score);
        }
    }
}

/// The sum over clusters of squared score residuals, packed, and how many there are.
pub(super) fn meat(risk: &Risk, tally: &Tally, b: &[f64]) -> (Vec<f64>, u64) {
    let q = risk.spread.len();
    let mut out = vec![0.0; q * (q + 1) / 2];
    let mut square = |score: &[f64], times: f64| {
        for i in 0..q {
            for j in 0..=i {
                out[packed(i, j)] += times * score[i] * score[j];
            }
        }
    };
    let mut clusters: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let mut alone = 0;
    each_life(risk, b, |r, _, score| {
        // A row that says nothing is no cluster.
        if r.count == 0 || !(r.exit > r.entry || r.failed) {
            return;
        }
        let cluster = tally.groups().get(r.group).map_or("", |g| g.cluster.as_str());
        if cluster.is_empty() {
            alone += r.count;
            return square(&score, r.count as f64);
        }
        let sum = clusters.entry(cluster).or_insert_with(|| vec![0.0; q]);
        sum.iter_mut().zip(score).for_each(|(sum, s)| *sum += r.count as f64 * s);
    });
    for sum in clusters.values() {
        square(sum, 1.0);
    }
    (out, alone + clusters.len() as u64)
}

impl HazardFit {
    /// The lives ready for the sweep, and the coefficients in its units. Other lives than the fitted ones are refused: what
    /// follows from the coefficients would not belong to them.
    pub(super) fn risk(&self, tally: &Tally, options: &HazardOptions) -> Result<(Risk, Vec<f64>)> {
        let endings = options.endings.as_deref();
        let risk = Risk::new(tally, endings, &self.strata, &self.design)?;
        let b: Vec<f64> = self.coefficients.iter().zip(&risk.spread).map(|(b, s)| b * s).collect();
        let mut here = Point::new(b.len());
        risk.at(&b, Order::Value, &mut here)?;
        let found = here.value + risk.ties();
        let same = (found - self.log_likelihood).abs() <= 1e-9 * self.log_likelihood.abs().max(1.0);
        let seen = facts(&Sample::new(tally, endings, None)?.count);
        // Ages in another unit have the same partial likelihood.
        if !same || seen != self.facts {
            let said = |value: f64, f: &Facts| {
                let (lamps, failures) = (counted(f.lamps, "lamp"), counted(f.failures, "failure"));
                format!("{lamps}, {failures}, {} h, log-likelihood {value}", hours(f.exposure_hours))
            };
            let problem = Problem::new("fit.other_data", "the tally is not the one that was fitted")
                .at(Place::input("tally"))
                .got(said(found, &seen))
                .expected(said(self.log_likelihood, &self.facts));
            return Err(Error::new(Kind::Input, problem));
        }
        Ok((risk, b))
    }

    /// Residuals: of each life its martingale, deviance and score residual, of each failure its plain and scaled residual.
    ///
    /// # Formula
    /// ```text
    /// martingale   failed - exp(eta) (H0(age) - H0(entry))
    /// deviance     sign(M) sqrt(-2 (M + failed ln(failed - M)))
    /// score        failed (z - mean at risk) - exp(eta) integral of (z - mean at risk) dH0
    /// scaled       b + failures V (z - mean at risk)
    /// ```
    /// With ties, one of d that fail together bears the hazard of its own age in Efron's shares.
    ///
    /// # Arguments
    /// `tally` and `options`: the fitted ones.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one; those of [`super::proportional_hazards`] on the rows.
    ///
    /// # Source
    /// P. M. Grambsch and T. M. Therneau (1994), Biometrika 81, 515-526, for the scaled ones. From memory.
    pub fn residuals(&self, tally: &Tally, options: &HazardOptions) -> Result<CovariateResiduals> {
        let (risk, b) = self.risk(tally, options)?;
        let q = self.coefficients.len();
        let mut out = CovariateResiduals {
            coefficients: self.design.names().into_iter().map(str::to_owned).collect(),
            lives: Vec::new(),
            failures: Vec::new(),
        };
        each_life(&risk, &b, |r, martingale, score| {
            out.lives.push(LifeResidual {
                entry: r.entry,
                age: r.exit,
                failed: r.failed,
                count: r.count,
                martingale,
                deviance: deviance(martingale, r.failed),
                score: score.iter().zip(&risk.spread).map(|(s, unit)| s * unit).collect(),
            });
        });
        let (hazards, failures) = (risk.hazards(&b), risk.failures() as f64);
        for stratum in &risk.strata {
            let first = out.failures.len();
            risk.sweep(stratum, &hazards, Order::Gradient, |tied| {
                let mean = tied.mean(&tied.shares());
                for r in tied.rows.iter().filter(|r| r.failed) {
                    let each = risk.matrix[r.group].iter().zip(&mean).zip(&risk.spread);
                    let plain: Vec<f64> = each.map(|((z, m), unit)| (z - m) * unit).collect();
                    let scaled = (0..q)
                        .map(|i| {
                            let along = (0..q).map(|j| self.covariance[packed(i, j)] * plain[j]);
                            self.coefficients[i] + failures * along.fold(0.0, |a, x| a + x)
                        })
                        .collect();
                    let (stratum, count) = (stratum.name.clone(), r.count);
                    out.failures.push(FailureResidual { age: tied.age, stratum, count, plain, scaled });
                }
            });
            out.failures[first..].reverse();
        }
        Ok(out)
    }
}
