//! Several fits of the same records side by side, by information criteria.

use serde::{Deserialize, Serialize};

use super::likelihood::Likelihood;
use super::model::{Fit, Note, check_family};
use super::newton::{Point, Surface};
use super::sample::Sample;
use super::search::FitOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::family::Order;
use crate::lives::Tally;

/// One fit in the table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InformationRow {
    /// Name of the family.
    pub family: String,
    /// Place of the fit in the list that was given, from 0.
    pub given: usize,
    /// Estimated parameters.
    pub parameters: u64,
    /// Maximised log-likelihood, densities per hour.
    pub log_likelihood: f64,
    /// Akaike's criterion.
    pub aic: f64,
    /// The same corrected for few failures; none with failures fewer than parameters and two.
    pub aicc: Option<f64>,
    /// Schwarz's criterion.
    pub bic: f64,
    /// AIC minus the smallest AIC.
    pub aic_difference: f64,
    /// `AICc` minus the smallest one; none where a fit has none.
    pub aicc_difference: Option<f64>,
    /// BIC minus the smallest BIC.
    pub bic_difference: f64,
}

/// Fits of the same records, best first by AIC.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InformationTable {
    /// Rows, smallest AIC first; equal ones in the order given.
    pub rows: Vec<InformationRow>,
    /// Failures, the sample size in `AICc` and BIC.
    pub failures: u64,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for InformationTable {
    fn check(&self, c: &mut Checks) {
        for (i, row) in self.rows.iter().enumerate() {
            let aic = 2.0 * row.parameters as f64 - 2.0 * row.log_likelihood;
            let width = check_family(c, &row.family).map_or(0, |f| f.width() as u64);
            c.follows(&format!("rows[{i}].parameters"), &row.parameters, &width);
            c.equal(&format!("rows[{i}].aic"), row.aic, aic);
            let (k, d) = (row.parameters as f64, self.failures as f64);
            let room = d - k - 1.0;
            let corrected = (room > 0.0).then(|| aic + 2.0 * k * (k + 1.0) / room);
            let bic = k * d.ln() - 2.0 * row.log_likelihood;
            c.equal(&format!("rows[{i}].bic"), row.bic, bic);
            for (field, got, expected, size) in [
                ("aicc", row.aicc, corrected, aic),
                ("aic_difference", Some(row.aic_difference), self.over_least(row, |r| Some(r.aic)), aic),
                ("aicc_difference", row.aicc_difference, self.over_least(row, |r| r.aicc), aic),
                ("bic_difference", Some(row.bic_difference), self.over_least(row, |r| Some(r.bic)), bic),
            ] {
                let field = format!("rows[{i}].{field}");
                c.there(&field, got.is_some(), expected.is_some(), "there where every fit has one");
                if let (Some(got), Some(expected)) = (got, expected) {
                    c.near(&field, got, expected, size.abs().max(expected));
                }
            }
        }
        c.need("rows", !self.rows.is_empty(), "no row", "one or more");
        let order = self.rows.is_sorted_by(|a, b| a.aic <= b.aic);
        c.need("rows", order, "another order", "the smallest AIC first");
    }
}

impl InformationTable {
    /// A criterion of a row over the least of all rows; none where a row has none.
    fn over_least(&self, row: &InformationRow, of: fn(&InformationRow) -> Option<f64>) -> Option<f64> {
        let all = self.rows.iter().map(of).collect::<Option<Vec<f64>>>()?;
        Some(of(row)? - all.into_iter().reduce(f64::min)?)
    }
}

/// AIC apart by less than this: the records hardly tell the two from each other.
pub(super) const ALIKE: f64 = 2.0;

/// Puts fits of the same records side by side.
///
/// # Formula
/// ```text
/// AIC  = 2 k - 2 ln L
/// AICc = AIC + 2 k (k + 1) / (d - k - 1)
/// BIC  = k ln d - 2 ln L
/// ```
/// k: parameters; ln L: log-likelihood; d: failures, since censored lamps add little to what is known of a shape.
///
/// # Arguments
/// `tally` and `options`: the records behind every fit. Each fit's log-likelihood is computed again from them, so a fit of
/// other records cannot slip in.
///
/// # Errors
/// `fit.nothing_to_compare` for no fit; `fit.other_records`, one problem for each fit of other records;
/// `fit.not_converged` for a fit whose search stopped early; those of [`super::fit`] on the options.
///
/// # Source
/// H. Akaike (1974), IEEE Transactions on Automatic Control 19, 716-723; C. M. Hurvich and C.-L. Tsai (1989), Biometrika
/// 76, 297-307; G. Schwarz (1978), Annals of Statistics 6, 461-464; failures as sample size: C. T. Volinsky and A. E.
/// Raftery (2000), Biometrics 56, 256-262. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, fit, information_table};
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let (options, run) = (FitOptions::default(), Run::new());
/// let even = fit(family("exponential")?, &tally, &options, &run)?;
/// let wear = fit(family("weibull")?, &tally, &options, &run)?;
/// let table = information_table(&tally, &options, &[&even, &wear])?;
/// assert_eq!(table.rows[0].family, "weibull");
/// assert_eq!(table.rows[0].aic_difference, 0.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn information_table(tally: &Tally, options: &FitOptions, fits: &[&Fit]) -> Result<InformationTable> {
    let failures = same_records(tally, options, fits)?;
    let d = failures as f64;
    let criteria = |(given, fit): (usize, &&Fit)| {
        let k = fit.coordinates().len() as f64;
        let (ln_l, room) = (fit.log_likelihood(), d - k - 1.0);
        InformationRow {
            family: fit.family_name().to_owned(),
            given,
            parameters: fit.coordinates().len() as u64,
            log_likelihood: ln_l,
            aic: fit.aic(),
            aicc: (room > 0.0).then(|| fit.aic() + 2.0 * k * (k + 1.0) / room),
            bic: k * d.ln() - 2.0 * ln_l,
            aic_difference: 0.0,
            aicc_difference: None,
            bic_difference: 0.0,
        }
    };
    let mut rows: Vec<InformationRow> = fits.iter().enumerate().map(criteria).collect();
    rows.sort_by(|a, b| a.aic.total_cmp(&b.aic));
    let least = |of: &dyn Fn(&InformationRow) -> Option<f64>| {
        rows.iter().map(of).collect::<Option<Vec<f64>>>().and_then(|v| v.into_iter().reduce(f64::min))
    };
    let (aic, aicc, bic) = (least(&|r| Some(r.aic)), least(&|r| r.aicc), least(&|r| Some(r.bic)));
    for row in &mut rows {
        row.aic_difference = row.aic - aic.unwrap_or(row.aic);
        row.aicc_difference = row.aicc.zip(aicc).map(|(here, least)| here - least);
        row.bic_difference = row.bic - bic.unwrap_or(row.bic);
    }
    let alike: Vec<&str> = rows.iter().filter(|r| r.aic_difference < ALIKE).map(|r| r.family.as_str()).collect();
    let mut notes = Vec::new();
    if alike.len() > 1 {
        notes.push(Note::new(
            "fit.alike",
            format!("these records hardly tell {} from each other: AIC within {ALIKE}", alike.join(", ")),
        ));
    }
    Ok(InformationTable { rows, failures, notes })
}

/// Relative difference of log-likelihoods that rounding explains.
const SAME: f64 = 1e-9;

/// Refuses fits of other records and fits that did not converge; else gives the number of failures.
pub(super) fn same_records(tally: &Tally, options: &FitOptions, fits: &[&Fit]) -> Result<u64> {
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    if fits.is_empty() {
        let problem =
            Problem::new("fit.nothing_to_compare", "no fits").at(Place::input("fits")).expected("one or more");
        return Err(Error::new(Kind::Input, problem));
    }
    let mut problems = Vec::new();
    for (i, fit) in fits.iter().enumerate() {
        let place = Place::input("fits").row(i as u64 + 1);
        if !fit.converged() {
            let what = "the search behind this fit stopped early, so its likelihood is no maximum";
            problems.push(Problem::new("fit.not_converged", what).at(place.clone()).got(fit.family_name()));
        }
        let mut here = Point::new(fit.coordinates().len());
        let likelihood = Likelihood { family: fit.family()?, sample: &sample };
        likelihood.at(fit.coordinates(), Order::Value, &mut here)?;
        if !((here.value - fit.log_likelihood()).abs() <= SAME * fit.log_likelihood().abs().max(1.0)) {
            problems.push(
                Problem::new("fit.other_records", "this fit is of other records: its likelihood cannot be compared")
                    .at(place)
                    .got(format!("{} with log-likelihood {}", fit.family_name(), fit.log_likelihood()))
                    .expected(format!("{} on these records", here.value)),
            );
        }
    }
    if problems.is_empty() { Ok(sample.count.failures) } else { Err(Error::many(Kind::Input, problems)) }
}
