//! Several fits of the same records side by side, by information criteria.

use serde::{Deserialize, Serialize};

use super::likelihood::Likelihood;
use super::model::{Fit, Note, check_family};
use super::newton::{Point, Surface};
use super::sample::Sample;
use super::search::FitOptions;
use super::simpler::{enough, told};
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
    /// AIC minus the smallest AIC of the fits that no simpler one makes needless; may lie below 0 for one that is needless.
    pub aic_difference: f64,
    /// The same with `AICc`; none where a fit has none.
    pub aicc_difference: Option<f64>,
    /// The same with BIC.
    pub bic_difference: f64,
    /// Family among these fits that is simpler and enough, by the test of the pair: the fit stands behind all that have none.
    #[serde(default)]
    pub simpler: Option<String>,
    /// Chance under that family of a rise of the log-likelihood as large, 5 % or more; an upper bound for a mixture.
    #[serde(default)]
    pub simpler_chance: Option<f64>,
}

/// Fits of the same records, best first: those that no simpler one makes needless by AIC, then the others by AIC.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InformationTable {
    /// Rows, best first; equal ones in the order given.
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
        let order = self.rows.is_sorted_by(|a, b| ranks(a, b).is_le());
        c.need("rows", order, "another order", "the smallest AIC first, fits that a simpler one makes needless last");
        let given: Vec<(&str, f64)> = self.rows.iter().map(|r| (r.family.as_str(), r.log_likelihood)).collect();
        for (i, (row, expected)) in self.rows.iter().zip(enough(&given).unwrap_or_default()).enumerate() {
            let field = format!("rows[{i}].simpler");
            c.follows(&field, &row.simpler, &expected.as_ref().map(|e| e.family.clone()));
            c.there(&format!("{field}_chance"), row.simpler_chance.is_some(), row.simpler.is_some(), "there with it");
            if let (Some(got), Some(expected)) = (row.simpler_chance, expected) {
                c.near(&format!("{field}_chance"), got, expected.chance, 1.0);
            }
        }
    }
}

impl InformationTable {
    /// A criterion of a row over the least of all rows that no simpler one makes needless; none where a row has none.
    fn over_least(&self, row: &InformationRow, of: fn(&InformationRow) -> Option<f64>) -> Option<f64> {
        Some(of(row)? - least(&self.rows, of)?)
    }
}

/// The least of a criterion over the rows that no simpler one makes needless; none where a row has none.
fn least(rows: &[InformationRow], of: impl Fn(&InformationRow) -> Option<f64>) -> Option<f64> {
    rows.iter().all(|r| of(r).is_some()).then_some(())?;
    rows.iter().filter(|r| r.simpler.is_none()).filter_map(of).reduce(f64::min)
}

/// Best first.
fn ranks(a: &InformationRow, b: &InformationRow) -> std::cmp::Ordering {
    a.simpler.is_some().cmp(&b.simpler.is_some()).then(a.aic.total_cmp(&b.aic))
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
/// The order is that of AIC, with one exception. AIC and its likes charge too little for a second kind of lamps, a share
/// that never fails and a hazard that grows: where these are not there, the simpler family lies on the edge of the range.
/// Such a fit stands behind the others where the simpler family is among them and is enough: by half of the chi-square
/// chance as in [`super::likelihood_ratio`], or for a second kind by the chi-square law with twice or three times as many
/// degrees of freedom as parameters are lost with it, at 5 %. [`InformationRow::simpler`] and a note say so.
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
            simpler: None,
            simpler_chance: None,
        }
    };
    let mut rows: Vec<InformationRow> = fits.iter().enumerate().map(criteria).collect();
    let given: Vec<(&str, f64)> = fits.iter().map(|fit| (fit.family_name(), fit.log_likelihood())).collect();
    for (row, found) in rows.iter_mut().zip(enough(&given)?) {
        (row.simpler, row.simpler_chance) = found.map_or((None, None), |e| (Some(e.family), Some(e.chance)));
    }
    rows.sort_by(ranks);
    let (aic, aicc, bic) = (least(&rows, |r| Some(r.aic)), least(&rows, |r| r.aicc), least(&rows, |r| Some(r.bic)));
    for row in &mut rows {
        row.aic_difference = row.aic - aic.unwrap_or(row.aic);
        row.aicc_difference = row.aicc.zip(aicc).map(|(here, least)| here - least);
        row.bic_difference = row.bic - bic.unwrap_or(row.bic);
    }
    let alike = rows.iter().filter(|r| r.simpler.is_none() && r.aic_difference < ALIKE);
    let alike: Vec<&str> = alike.map(|r| r.family.as_str()).collect();
    let mut notes = Vec::new();
    if alike.len() > 1 {
        notes.push(Note::new(
            "fit.alike",
            format!("these records hardly tell {} from each other: AIC within {ALIKE}", alike.join(", ")),
        ));
    }
    for row in &rows {
        if let (Some(simpler), Some(chance)) = (&row.simpler, row.simpler_chance) {
            notes.push(told(&row.family, simpler, chance));
        }
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
