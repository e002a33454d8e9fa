//! A fitted model of proportional hazards.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::baseline::Baseline;
use crate::base::error::Result;
use crate::base::figure::counted;
use crate::base::math::linalg::packed;
use crate::base::sound::{Checks, Sound};
use crate::fit::covariates::{Design, TermTest, check_covariance, few_note, place_of};
use crate::fit::few_clusters::{cluster_note, degrees_left};
use crate::fit::model::{Facts, Note, failure_notes};
use crate::fit::newton::Stop;
use crate::records::Ending;

/// How to fit proportional hazards.
#[derive(Clone, Debug, PartialEq)]
pub struct HazardOptions {
    /// Endings that count as failure; failures with another ending are right-censored at their `low`. None: all failures count.
    pub endings: Option<Vec<Ending>>,
    /// Categories whose levels have hazards of their own, by name; `stratum` for the strata of the lives.
    pub strata: Vec<String>,
    /// Whether standard errors stand up to lives of one cluster that go alike, and to hazards that are not proportional.
    pub robust: bool,
    /// Largest number of iterations of one search.
    pub iterations: u64,
}

impl Default for HazardOptions {
    fn default() -> Self {
        Self { endings: None, strata: Vec::new(), robust: false, iterations: 100 }
    }
}

/// A fitted model of proportional hazards. Only [`super::proportional_hazards`] makes one; it holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HazardFit {
    pub(super) design: Design,
    pub(super) strata: Vec<String>,
    pub(super) coefficients: Vec<f64>,
    /// Packed lower triangle: inverse of the observed information.
    pub(super) covariance: Vec<f64>,
    /// The same between robust brackets.
    pub(super) robust_covariance: Vec<f64>,
    pub(super) robust: bool,
    /// Clusters, each lamp without one counted by itself.
    pub(super) clusters: u64,
    pub(super) log_likelihood: f64,
    pub(super) log_likelihood_without: f64,
    pub(super) scaled_gradient: f64,
    pub(super) condition: f64,
    pub(super) iterations: u64,
    pub(super) stop: Stop,
    pub(super) converged: bool,
    pub(super) facts: Facts,
    pub(super) tests: Vec<TermTest>,
    pub(super) baselines: Vec<Baseline>,
    pub(super) notes: Vec<Note>,
}

impl Sound for HazardFit {
    fn check(&self, c: &mut Checks) {
        c.part("design", &self.design);
        let q = self.design.columns.len();
        c.entries("coefficients", self.coefficients.len(), q);
        for (field, covariance) in [("covariance", &self.covariance), ("robust_covariance", &self.robust_covariance)] {
            c.entries(field, covariance.len(), q * (q + 1) / 2);
            check_covariance(c, field, covariance, q);
        }
        let enough = !self.robust || self.raised().is_some();
        c.need("clusters", enough, self.clusters, "two more than coefficients, for robust errors");
        c.not_negative("scaled_gradient", self.scaled_gradient);
        c.follows("converged", &self.converged, &matches!(self.stop, Stop::Gradient | Stop::ClosedForm));
        c.part("facts", &self.facts);
        c.parts("tests", &self.tests);
        c.parts("baselines", &self.baselines);
        c.once("baselines", self.baselines.iter().map(|b| &b.stratum));
        for (i, b) in self.baselines.iter().enumerate() {
            c.need(
                &format!("baselines[{i}]"),
                b.drift.iter().all(|d| d.len() == q),
                "others",
                "an entry a coefficient",
            );
        }
        let few = if self.robust { cluster_note(self.clusters) } else { None };
        for note in failure_notes(self.facts.failures).into_iter().chain(few_note(self.facts.failures, q)).chain(few) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
    }
}

impl HazardFit {
    /// Terms, factors and columns.
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// What has hazards of its own, as asked.
    pub fn strata(&self) -> &[String] {
        &self.strata
    }

    /// Coefficients in the order of the columns: logarithms of hazard ratios for one unit of the column.
    pub fn coefficients(&self) -> &[f64] {
        &self.coefficients
    }

    /// One coefficient by the name of its column.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn coefficient(&self, name: &str) -> Result<f64> {
        Ok(self.coefficients[place_of(&self.design, name)?])
    }

    /// exp(b): by how much the hazard is multiplied for one unit of the column.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn hazard_ratio(&self, name: &str) -> Result<f64> {
        self.coefficient(name).map(f64::exp)
    }

    /// By how much a variance between robust brackets is raised for few clusters, `clusters / (clusters - 1 - coefficients)`;
    /// none where no degree of freedom is left.
    pub(super) fn raised(&self) -> Option<f64> {
        degrees_left(self.clusters, self.coefficients.len()).map(|left| self.clusters as f64 / left)
    }

    /// Covariance of coefficients i and j: the robust one, raised for few clusters, where that was asked for.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let q = self.coefficients.len();
        let (all, times) =
            if self.robust { (&self.robust_covariance, self.raised()?) } else { (&self.covariance, 1.0) };
        if i < q && j < q { all.get(packed(i, j)).map(|v| times * v) } else { None }
    }

    /// Standard error of a coefficient: the robust one where that was asked for.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn standard_error(&self, name: &str) -> Result<f64> {
        let i = place_of(&self.design, name)?;
        Ok(self.covariance(i, i).unwrap_or(f64::NAN).sqrt())
    }

    /// Standard error of a coefficient between robust brackets, raised for few clusters, whether asked for or not; none with
    /// fewer than two more clusters than coefficients.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn robust_standard_error(&self, name: &str) -> Result<Option<f64>> {
        let i = place_of(&self.design, name)?;
        let variance = self.robust_covariance.get(packed(i, i)).copied();
        Ok(self.raised().zip(variance).map(|(times, v)| (times * v).sqrt()))
    }

    /// Clusters behind the robust standard errors; a lamp without a cluster counts by itself.
    pub fn clusters(&self) -> u64 {
        self.clusters
    }

    /// Maximised partial log-likelihood.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Partial log-likelihood without covariates.
    pub fn log_likelihood_without(&self) -> f64 {
        self.log_likelihood_without
    }

    /// Likelihood-ratio tests, one a term, as in [`crate::fit::CovariateFit::tests`].
    pub fn tests(&self) -> &[TermTest] {
        &self.tests
    }

    /// The cumulative hazard of a baseline lamp, stratum by stratum.
    pub fn baselines(&self) -> &[Baseline] {
        &self.baselines
    }

    /// Largest |gradient| at the end in units of one over a standard error.
    pub fn scaled_gradient(&self) -> f64 {
        self.scaled_gradient
    }

    /// Condition of the information matrix with its diagonal scaled to 1: 1 is best.
    pub fn condition(&self) -> f64 {
        self.condition
    }

    /// Iterations of the search.
    pub fn iterations(&self) -> u64 {
        self.iterations
    }

    /// Why the search stopped.
    pub fn stop(&self) -> Stop {
        self.stop
    }

    /// Whether the search reached the maximum.
    pub fn converged(&self) -> bool {
        self.converged
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }
}

impl fmt::Display for HazardFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (lamps, failures) = (counted(self.facts.lamps, "lamp"), counted(self.facts.failures, "failure"));
        write!(f, "proportional hazards of {lamps}, {failures}")?;
        for (column, b) in self.design.columns.iter().zip(&self.coefficients) {
            let error = self.standard_error(&column.name).unwrap_or(f64::NAN);
            write!(f, "; {} {b:.4} (standard error {error:.4})", column.name)?;
        }
        write!(f, "; partial log-likelihood {:.4}", self.log_likelihood)?;
        if !self.converged {
            f.write_str("; NOT CONVERGED")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "; {}", note.text))
    }
}
