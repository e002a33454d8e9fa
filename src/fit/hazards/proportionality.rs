//! Whether hazards stay proportional with age.

use serde::{Deserialize, Serialize};

use super::model::{HazardFit, HazardOptions};
use super::partial::Risk;
use crate::base::error::Result;
use crate::base::math::linalg::{packed, solve};
use crate::base::sound::{Checks, Sound};
use crate::family::Order;
use crate::fit::covariates::TermTest;
use crate::lives::Tally;

/// The scale of age on which a coefficient might change.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AgeScale {
    /// Age in hours.
    Age,
    /// The rank of the failure age among all failures, ties at their middle.
    Rank,
    /// 1 less the product-limit curve of all lamps just before the age: near-even steps where few are left.
    #[default]
    ProductLimit,
}

/// Tests of proportional hazards: one for each term, and one for all.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proportionality {
    /// The scale of age.
    pub scale: AgeScale,
    /// One a term.
    pub terms: Vec<TermTest>,
    /// All terms together.
    pub all: TermTest,
}

impl Sound for Proportionality {
    fn check(&self, c: &mut Checks) {
        c.parts("terms", &self.terms);
        c.part("all", &self.all);
        let degrees: u64 = self.terms.iter().map(|t| t.degrees_of_freedom).sum();
        c.follows("all.degrees_of_freedom", &self.all.degrees_of_freedom, &degrees);
    }
}

/// The scale at each distinct failure age of all strata, ascending.
fn scale_at(risk: &Risk, scale: AgeScale) -> Vec<(f64, f64)> {
    let rows = || risk.strata.iter().flat_map(|s| &s.rows);
    let mut failures: Vec<(f64, u64)> = rows().filter(|r| r.failed).map(|r| (r.exit, r.count)).collect();
    failures.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut distinct: Vec<(f64, u64)> = Vec::new();
    for (age, count) in failures {
        match distinct.last_mut() {
            Some(last) if last.0 == age => last.1 += count,
            _ => distinct.push((age, count)),
        }
    }
    let ordered = |end: fn(&super::partial::Stretch) -> f64| {
        let mut ends: Vec<(f64, u64)> = rows().map(|r| (end(r), r.count)).collect();
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        ends
    };
    let (exits, entries) = (ordered(|r| r.exit), ordered(|r| r.entry));
    let (mut gone, mut come, mut exit, mut entry) = (0, 0, exits.iter().peekable(), entries.iter().peekable());
    let (mut before, mut reliability) = (0, 1.0);
    distinct
        .into_iter()
        .map(|(age, failed)| {
            while let Some((_, count)) = exit.next_if(|e| e.0 < age) {
                gone += count;
            }
            while let Some((_, count)) = entry.next_if(|e| e.0 < age) {
                come += count;
            }
            let value = match scale {
                AgeScale::Age => age,
                AgeScale::Rank => before as f64 + 0.5 * (failed + 1) as f64,
                AgeScale::ProductLimit => 1.0 - reliability,
            };
            before += failed;
            reliability *= 1.0 - failed as f64 / (come - gone) as f64;
            (age, value)
        })
        .collect()
}

impl HazardFit {
    /// Tests of proportional hazards: does a coefficient change with age?
    ///
    /// Each is the score test of a term whose coefficients grow with g(age), added to the model: exact in the information
    /// of each failure age, where the usual short form takes it as even.
    ///
    /// # Formula
    /// ```text
    /// U = sum of g(age) (z - mean at risk),  W = sum of g^2 I(age) - (sum of g I) I^-1 (sum of g I)'
    /// statistic = U' W^-1 U, chi-square with one degree of freedom a coefficient
    /// ```
    /// g: age, rank of age, or 1 less the product-limit curve; I(age): what a failure age adds to the information.
    ///
    /// # Arguments
    /// `tally` and `options`: the fitted ones.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one; those of [`super::proportional_hazards`] on the rows.
    ///
    /// # Source
    /// P. M. Grambsch and T. M. Therneau (1994), Biometrika 81, 515-526. From memory.
    pub fn proportionality(&self, tally: &Tally, options: &HazardOptions, scale: AgeScale) -> Result<Proportionality> {
        let (risk, b) = self.risk(tally, options)?;
        let q = b.len();
        let ages = scale_at(&risk, scale);
        let failures = risk.failures() as f64;
        // Taking off a mean changes nothing and keeps digits.
        let at = |age: f64| ages.binary_search_by(|a| a.0.total_cmp(&age)).map_or(0.0, |i| ages[i].1);
        let rows = || risk.strata.iter().flat_map(|s| &s.rows).filter(|r| r.failed);
        let mean = rows().map(|r| r.count as f64 * at(r.exit)).fold(0.0, |a, x| a + x) / failures;
        let widest = ages.iter().fold(0.0, |m: f64, a| m.max((a.1 - mean).abs()));
        let unit = if widest > 0.0 { widest } else { 1.0 };
        let hazards = risk.hazards(&b);
        let mut slope = vec![0.0; q];
        let [mut plain, mut mixed, mut twice] = [(); 3].map(|()| vec![0.0; q * (q + 1) / 2]);
        for stratum in &risk.strata {
            risk.sweep(stratum, &hazards, Order::Hessian, |tied| {
                let (g, s) = ((at(tied.age) - mean) / unit, tied.shares());
                tied.add_slope(&s, &risk.matrix, g, &mut slope);
                tied.add_information(&s, 1.0, &mut plain);
                tied.add_information(&s, g, &mut mixed);
                tied.add_information(&s, g * g, &mut twice);
            });
        }
        // W, column by column of the mixed part.
        let columns: Vec<Vec<f64>> = (0..q)
            .map(|j| {
                let column: Vec<f64> = (0..q).map(|i| mixed[packed(i, j)]).collect();
                solve(&plain, &column).unwrap_or_else(|| vec![f64::NAN; q])
            })
            .collect();
        let entry = |i: usize, j: usize| {
            let taken = (0..q).map(|k| mixed[packed(i, k)] * columns[j][k]).fold(0.0, |a, x| a + x);
            twice[packed(i, j)] - taken
        };
        let test = |name: &str, of: &[usize]| {
            let lower: Vec<f64> = of
                .iter()
                .enumerate()
                .flat_map(|(a, i)| of.iter().take(a + 1).map(|j| entry(*i, *j)).collect::<Vec<_>>())
                .collect();
            let u: Vec<f64> = of.iter().map(|i| slope[*i]).collect();
            // Where all failures have one age, no change with age can be seen.
            let along = solve(&lower, &u).unwrap_or_else(|| vec![0.0; u.len()]);
            TermTest::new(name, along.iter().zip(&u).map(|(a, b)| a * b).fold(0.0, |a, x| a + x), of.len())
        };
        let place = |t: usize| -> Vec<usize> {
            self.design.columns.iter().enumerate().filter(|(_, c)| c.term == t).map(|(i, _)| i).collect()
        };
        let terms = self.design.terms.iter().enumerate().map(|(t, term)| test(&term.name, &place(t))).collect();
        Ok(Proportionality { scale, terms, all: test("all", &(0..q).collect::<Vec<_>>()) })
    }
}
