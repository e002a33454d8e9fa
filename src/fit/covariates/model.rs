//! From lives with covariates to a fitted regression.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::design::Design;
use super::life::moved_life;
use super::surface::Move;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::linalg::packed;
use crate::base::math::special::ln_gamma_q;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Life, family};
use crate::fit::model::{Facts, Note, check_family, failure_notes};
use crate::fit::newton::Stop;
use crate::lives::CovariateValue;

/// Whether a term is needed: the model with it against the one without it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TermTest {
    /// The term.
    pub term: String,
    /// Twice the difference of the log-likelihoods.
    pub statistic: f64,
    /// Coefficients that the term has.
    pub degrees_of_freedom: u64,
    /// Chance of a statistic at least this large if the term has no effect.
    pub p_value: f64,
}

impl TermTest {
    pub(crate) fn new(term: &str, statistic: f64, degrees_of_freedom: usize) -> Self {
        let statistic = statistic.max(0.0);
        let p_value = chi_square_chance(statistic, degrees_of_freedom);
        Self { term: term.to_owned(), statistic, degrees_of_freedom: degrees_of_freedom as u64, p_value }
    }
}

impl Sound for TermTest {
    fn check(&self, c: &mut Checks) {
        c.not_negative("statistic", self.statistic);
        c.need("degrees_of_freedom", self.degrees_of_freedom > 0, self.degrees_of_freedom, "1 or more");
        let chance = chi_square_chance(self.statistic, usize::try_from(self.degrees_of_freedom).unwrap_or(0));
        c.equal("p_value", self.p_value, chance);
    }
}

/// Chance that a chi-square number is at least so large.
pub(crate) fn chi_square_chance(statistic: f64, degrees_of_freedom: usize) -> f64 {
    ln_gamma_q(0.5 * degrees_of_freedom as f64, 0.5 * statistic).exp()
}

/// Failures for each coefficient below which a regression is called weak.
///
/// Common practice; P. Peduzzi et al. (1996), Journal of Clinical Epidemiology 49, 1373-1379, found coefficients biased and
/// intervals too short below ten (from memory).
pub const FAILURES_PER_COEFFICIENT: u64 = 10;

/// The note that few failures for each coefficient call for.
pub(crate) fn few_note(failures: u64, coefficients: usize) -> Option<Note> {
    (failures < FAILURES_PER_COEFFICIENT * coefficients as u64).then(|| {
        let (failures, coefficients) = (counted(failures, "failure"), counted(coefficients as u64, "coefficient"));
        Note::new(
            "fit.few_per_coefficient",
            format!(
                "weak: {failures} for {coefficients}, fewer than {FAILURES_PER_COEFFICIENT} each; \
                 effects may be overstated and intervals too short"
            ),
        )
    })
}

/// A fitted accelerated-life regression. Only [`super::fit_covariates`] makes one; it holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CovariateFit {
    pub(super) family: String,
    pub(super) design: Design,
    /// Coordinates of the baseline life.
    pub(super) baseline: Vec<f64>,
    pub(super) coefficients: Vec<f64>,
    /// Packed lower triangle over (baseline coordinates.., coefficients..).
    pub(super) covariance: Vec<f64>,
    pub(super) log_likelihood: f64,
    pub(super) log_likelihood_without: f64,
    pub(super) scaled_gradient: f64,
    pub(super) condition: f64,
    pub(super) iterations: u64,
    pub(super) stop: Stop,
    pub(super) converged: bool,
    pub(super) facts: Facts,
    pub(super) tests: Vec<TermTest>,
    pub(super) notes: Vec<Note>,
}

impl Sound for CovariateFit {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        c.part("design", &self.design);
        let (w, q) = (family.width(), self.design.columns.len());
        c.entries("baseline", self.baseline.len(), w);
        c.entries("coefficients", self.coefficients.len(), q);
        c.entries("covariance", self.covariance.len(), (w + q) * (w + q + 1) / 2);
        check_covariance(c, "covariance", &self.covariance, w + q);
        c.not_negative("scaled_gradient", self.scaled_gradient);
        c.follows("converged", &self.converged, &matches!(self.stop, Stop::Gradient | Stop::ClosedForm));
        c.part("facts", &self.facts);
        c.parts("tests", &self.tests);
        for note in failure_notes(self.facts.failures).into_iter().chain(few_note(self.facts.failures, q)) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
    }
}

/// Variances of at least 0, and covariances within their bounds.
pub(crate) fn check_covariance(c: &mut Checks, name: &str, covariance: &[f64], n: usize) {
    let entry = |i, j| covariance.get(packed(i, j)).copied().unwrap_or(0.0);
    for i in 0..n {
        for j in 0..=i {
            let (got, most) = (entry(i, j), (entry(i, i) * entry(j, j)).sqrt());
            let holds = got.abs() <= most * (1.0 + 1e-9) && (i != j || got >= 0.0);
            let field = format!("{name}[{}]", packed(i, j));
            c.need(&field, holds, got, "a variance, or a covariance within its bounds");
        }
    }
}

/// A coefficient by name; one of an interaction with its parts in any order.
pub(crate) fn place_of(design: &Design, name: &str) -> Result<usize> {
    // The parts of an interaction may come in any order.
    let parts = |name: &str| {
        let mut parts: Vec<String> = name.split(':').map(|part| part.trim().to_owned()).collect();
        parts.sort_unstable();
        parts
    };
    let place = |same: &dyn Fn(&str) -> bool| design.columns.iter().position(|c| same(&c.name));
    let asked = parts(name);
    place(&|c| c == name).or_else(|| place(&|c| parts(c) == asked)).ok_or_else(|| {
        let problem = Problem::new("fit.coefficient_unknown", "no such coefficient")
            .at(Place::input("coefficient"))
            .got(name)
            .expected(design.names().join(", "));
        Error::new(Kind::Input, problem)
    })
}

impl CovariateFit {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved fit of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// Terms, factors and columns.
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// Coefficients in the order of the columns. For families of ages above 0 the logarithm of a life ratio for one unit
    /// of the column, for families that reach below 0 hours for one unit.
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

    /// exp(b): by how much every age is multiplied for one unit of the column; none for a family that is shifted by hours.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn life_ratio(&self, name: &str) -> Result<Option<f64>> {
        let b = self.coefficient(name)?;
        Ok((Move::of(self.family()?) == Move::Stretch).then(|| b.exp()))
    }

    /// Coordinates of the baseline life.
    pub fn baseline_coordinates(&self) -> &[f64] {
        &self.baseline
    }

    /// Parameters of the baseline life, that of a lamp at the reference levels and the baselines of [`super::Factor`].
    pub fn baseline_parameters(&self) -> Vec<(&'static str, f64)> {
        let Ok(family) = self.family() else { return Vec::new() };
        family.parameter_names().iter().copied().zip(family.parameters(&self.baseline)).collect()
    }

    /// Covariance of entries i and j of (baseline coordinates.., coefficients..): inverse of the observed information.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let n = self.baseline.len() + self.coefficients.len();
        if i < n && j < n { self.covariance.get(packed(i, j)).copied() } else { None }
    }

    /// Standard error of a coefficient.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`.
    pub fn standard_error(&self, name: &str) -> Result<f64> {
        let i = self.baseline.len() + place_of(&self.design, name)?;
        Ok(self.covariance(i, i).unwrap_or(f64::NAN).sqrt())
    }

    /// Maximised log-likelihood, densities per hour.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Maximised log-likelihood of the same family without covariates.
    pub fn log_likelihood_without(&self) -> f64 {
        self.log_likelihood_without
    }

    /// 2 x parameters and coefficients - 2 x log-likelihood; smaller is better, on the same data only.
    pub fn aic(&self) -> f64 {
        2.0 * (self.baseline.len() + self.coefficients.len()) as f64 - 2.0 * self.log_likelihood
    }

    /// Likelihood-ratio tests, one a term: the model with the term but no interaction that holds it, against that one
    /// without the term.
    pub fn tests(&self) -> &[TermTest] {
        &self.tests
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

    /// Sum of coefficient times column at covariates: 0 at the baseline.
    ///
    /// # Errors
    /// Those of [`Design::at`].
    pub fn effect(&self, covariates: &BTreeMap<String, CovariateValue>) -> Result<f64> {
        let row = self.design.at(covariates)?;
        Ok(row.iter().zip(&self.coefficients).map(|(z, b)| z * b).fold(0.0, |a, x| a + x))
    }

    /// The life of a lamp with these covariates, which goes wherever a life goes.
    ///
    /// It is one of the family with other parameters, and so has a name, for every family but those that cannot be
    /// stretched by their parameters alone, such as `above_zero(...)`.
    /// [`Design::extrapolation`] says where covariates lie outside the range of the lamps.
    ///
    /// # Errors
    /// Those of [`Design::at`].
    pub fn life(&self, covariates: &BTreeMap<String, CovariateValue>) -> Result<Box<dyn Life>> {
        moved_life(self.family()?, &self.baseline, self.effect(covariates)?)
    }
}

impl fmt::Display for CovariateFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (lamps, failures) = (counted(self.facts.lamps, "lamp"), counted(self.facts.failures, "failure"));
        write!(f, "{} regression of {lamps}, {failures}", self.family)?;
        for (column, b) in self.design.columns.iter().zip(&self.coefficients) {
            let error = self.standard_error(&column.name).unwrap_or(f64::NAN);
            write!(f, "; {} {b:.4} (standard error {error:.4})", column.name)?;
        }
        write!(f, "; log-likelihood {:.4}", self.log_likelihood)?;
        if !self.converged {
            f.write_str("; NOT CONVERGED")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "; {}", note.text))
    }
}
