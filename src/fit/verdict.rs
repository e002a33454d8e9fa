//! Several families fitted to the same records: which fit alike, and by how much they disagree at an age that matters.

use std::fmt::Write;

use serde::{Deserialize, Serialize};

use super::information::{ALIKE, information_table};
use super::interval::{Quantity, Sides};
use super::model::{Fit, Note, check_family};
use super::search::FitOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::full_hours;
use crate::base::sound::{Checks, Sound};
use crate::family::in_words;
use crate::lives::Tally;

/// One family at the age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FamilyAt {
    /// Name of the family.
    pub family: String,
    /// AIC minus that of the best; may lie below 0 where a simpler family is enough.
    pub aic_difference: f64,
    /// Family among these fits that is simpler and enough: the fit stands behind all that have none, as in
    /// [`super::InformationRow::simpler`].
    #[serde(default)]
    pub simpler: Option<String>,
    /// Whether the records hardly tell it from the best: AIC within 2, and no simpler family enough.
    pub alike: bool,
    /// Probability to have failed by the age; where the verdict has a window, among the lamps that fail within it.
    pub failed: f64,
    /// Lower end of its interval, from the curvature at the maximum; none where there is none.
    pub failed_low: Option<f64>,
    /// Upper end.
    pub failed_high: Option<f64>,
}

/// What the families that fit alike say at an age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FamilyVerdict {
    /// The age, hours.
    pub age_hours: f64,
    /// End of the window, hours, where the records show failures only: every share is then one of the failures by this age,
    /// since such records do not tell how many lamps fail. None where shares are of all lamps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within_hours: Option<f64>,
    /// Families, best first: by AIC, those that a simpler one makes needless last.
    pub rows: Vec<FamilyAt>,
    /// Level of the intervals.
    pub level: f64,
    /// Largest less smallest failure probability among the families that fit alike.
    pub disagreement: f64,
    /// Whether the families that fit alike disagree by more than the interval of the best is wide.
    pub beyond_interval: bool,
    /// The answer in plain words.
    pub verdict: String,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for FamilyVerdict {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        if let Some(upper) = self.within_hours {
            c.positive("within_hours", upper);
            c.need("age_hours", self.age_hours < upper, self.age_hours, "an age within the window");
        }
        c.level("level", self.level);
        c.share("disagreement", self.disagreement);
        for (i, row) in self.rows.iter().enumerate() {
            check_family(c, &row.family);
            if row.simpler.is_none() {
                c.not_negative(&format!("rows[{i}].aic_difference"), row.aic_difference);
            }
            let known =
                row.simpler.as_ref().is_none_or(|s| *s != row.family && self.rows.iter().any(|r| r.family == *s));
            c.need(&format!("rows[{i}].simpler"), known, "another", "one of the other families");
            c.share(&format!("rows[{i}].failed"), row.failed);
            c.share(&format!("rows[{i}].failed_low"), row.failed_low);
            c.share(&format!("rows[{i}].failed_high"), row.failed_high);
            c.ends(&format!("rows[{i}].failed_high"), row.failed_low, row.failed_high);
            c.between(&format!("rows[{i}].failed"), row.failed, row.failed_low, row.failed_high);
            let alike = row.simpler.is_none() && row.aic_difference < ALIKE;
            c.follows(&format!("rows[{i}].alike"), &row.alike, &alike);
        }
        let place = |row: &FamilyAt| (row.simpler.is_some(), row.aic_difference);
        let order = self.rows.is_sorted_by(|a, b| place(a) <= place(b));
        c.need("rows", order, "another order", "the smallest AIC first, fits that a simpler one makes needless last");
        c.need("rows", self.rows.first().is_some_and(|r| r.aic_difference == 0.0), "no best", "the best first, with 0");
        let (disagreement, beyond) = disagreement(&self.rows);
        c.near("disagreement", self.disagreement, disagreement, 1.0);
        c.follows("beyond_interval", &self.beyond_interval, &beyond);
    }
}

/// Puts fits of the same records side by side at an age: which fit alike, and how far apart they stand there.
///
/// # Formula
/// ```text
/// alike: AIC within 2 of the best;  disagreement = max - min of F(age) among them
/// ```
/// The best is that of [`super::information_table`]: a second kind of lamps, a share that never fails or a hazard that grows
/// is neither the best nor among those that fit alike where a simpler family among the fits is enough.
///
/// Records that show failures only, and leave a parameter open, tell how failures lie within the window: F(age) is then
/// F(age) / F(upper), the share of the failures by the end of the window.
///
/// # Arguments
/// `tally` and `options`: the records behind every fit. `age_hours`: where the answer is needed, such as the planned age or
/// the hour limit. `level`: of the interval of each family.
///
/// # Errors
/// Those of [`super::information_table`]; `fit.age` for the age; `fit.level`; `fit.window` for an age past the window of records
/// that show failures only.
///
/// # Source
/// Age at which families disagree, as a part of the answer: Meeker & Escobar (1998), Statistical Methods for Reliability
/// Data, section 8.5 (from memory).
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, family_verdict, fit};
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let (options, run) = (FitOptions::default(), Run::new());
/// let wear = fit(family("weibull")?, &tally, &options, &run)?;
/// let other = fit(family("lognormal")?, &tally, &options, &run)?;
/// let said = family_verdict(&tally, &options, &[&wear, &other], 300.0, 0.95)?;
/// assert!(said.verdict.contains("fit equally well and disagree at 300 h"));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn family_verdict(
    tally: &Tally,
    options: &FitOptions,
    fits: &[&Fit],
    age_hours: f64,
    level: f64,
) -> Result<FamilyVerdict> {
    if !(age_hours > 0.0 && age_hours < f64::INFINITY) {
        let problem = Problem::new("fit.age", "families are compared at an age").at(Place::input("age_hours"));
        return Err(Error::new(Kind::Domain, problem.got(age_hours).expected("finite hours above 0")));
    }
    let table = information_table(tally, options, fits)?;
    let within_hours = window(tally, fits, age_hours)?;
    let mut rows = Vec::with_capacity(table.rows.len());
    let (mut notes, mut open, mut doubt) = (Vec::new(), Vec::new(), String::new());
    for row in &table.rows {
        let Some(fit) = fits.get(row.given) else { continue };
        let (failed, low, high) = match within_hours {
            Some(upper) => within(fit, upper, age_hours, level)?,
            None => of_all(fit, age_hours, level)?,
        };
        rows.push(FamilyAt {
            family: row.family.clone(),
            aic_difference: row.aic_difference,
            simpler: row.simpler.clone(),
            alike: row.simpler.is_none() && row.aic_difference < ALIKE,
            failed,
            failed_low: low,
            failed_high: high,
        });
        let unneeded = fit.notes().iter().filter(|note| note.slug == "fit.one_kind_enough");
        if rows.len() == 1 && unneeded.clone().next().is_some() {
            doubt += "; yet one kind of lamps, which is not among these fits, explains the records about as well, so that \
                      nothing speaks for two: fit it too";
        }
        if let Some(simpler) = row.simpler.as_ref().filter(|_| row.aic_difference < 0.0) {
            let (wide, narrow) = (in_words(&row.family), in_words(simpler));
            // Writing to a string cannot fail.
            let _ = write!(
                doubt,
                "; {wide} would come first by AIC alone, yet these records do not ask for it: {narrow} is enough"
            );
        }
        for note in fit.open_parameters().chain(unneeded) {
            let text = format!("{}: {}", in_words(fit.family_name()), note.text);
            open.push(Note::new(&note.slug, text));
        }
        if notes.is_empty() {
            notes.extend(super::model::failure_notes_of(fit.family_name(), fit.facts().failures));
            notes.extend(fit.extrapolation(age_hours));
        }
    }
    notes.extend(open);
    notes.extend(table.notes.into_iter().filter(|note| note.slug == "fit.simpler_enough"));
    let alike: Vec<&FamilyAt> = rows.iter().filter(|r| r.alike).collect();
    let (disagreement, beyond_interval) = disagreement(&rows);
    let verdict = sentence(&alike, rows.len(), age_hours, within_hours, (disagreement, beyond_interval)) + &doubt;
    Ok(FamilyVerdict { age_hours, within_hours, rows, level, disagreement, beyond_interval, verdict, notes })
}

/// End of the window where the records of the fits show failures only and leave a parameter of one of them open.
fn window(tally: &Tally, fits: &[&Fit], age_hours: f64) -> Result<Option<f64>> {
    if fits.iter().all(|fit| fit.tells_of_all_lamps().is_ok() && fit.limit().is_none()) {
        return Ok(None);
    }
    let upper = tally.upper().unwrap_or(&[]).iter().copied().filter(|u| u.is_finite()).fold(0.0, f64::max);
    if age_hours < upper {
        return Ok(Some(upper));
    }
    fits.iter().try_for_each(|fit| fit.has_maximum())?;
    let what = "the records show failures only and tell nothing of ages past their window";
    let problem = Problem::new("fit.window", what).at(Place::input("age_hours")).got(age_hours);
    Err(Error::new(Kind::Domain, problem.expected(format!("below {upper}, where the window ends")))
        .with_hint("with the lamps shipped (`with_shipped`) the whole life can be told"))
}

/// Probability to have failed by an age, and its interval; no ends where there is none.
fn of_all(fit: &Fit, age: f64, level: f64) -> Result<(f64, Option<f64>, Option<f64>)> {
    fit.has_maximum()?;
    let (low, high) = match fit.wald(&Quantity::Reliability(age), level, Sides::Both) {
        Ok(i) => (i.high.map(|h| 1.0 - h), i.low.map(|l| 1.0 - l)),
        Err(error) if error.kind() == Kind::Refused => (None, None),
        Err(error) => return Err(error),
    };
    Ok((fit.life_at_maximum()?.failure_probability(age), low, high))
}

/// The same among the lamps that fail within a window.
fn within(fit: &Fit, upper: f64, age: f64, level: f64) -> Result<(f64, Option<f64>, Option<f64>)> {
    let found = fit.within_window(upper, &[age], level)?;
    let share = found.shares.first();
    Ok(share.map_or((f64::NAN, None, None), |s| (s.share, s.low, s.high)))
}

/// Largest less smallest failure probability among the families that fit alike, and whether that is more than the
/// interval of the best is wide.
fn disagreement(rows: &[FamilyAt]) -> (f64, bool) {
    let alike = || rows.iter().filter(|r| r.alike);
    let most = alike().fold(f64::NEG_INFINITY, |m, r| m.max(r.failed));
    let least = alike().fold(f64::INFINITY, |m, r| m.min(r.failed));
    let apart = if alike().count() > 1 { most - least } else { 0.0 };
    let width = alike().next().and_then(|r| Some(r.failed_high? - r.failed_low?));
    (apart, width.is_some_and(|w| apart > w))
}

fn sentence(
    alike: &[&FamilyAt],
    tried: usize,
    age: f64,
    within: Option<f64>,
    (disagreement, beyond): (f64, bool),
) -> String {
    let percent = |p: f64| if p < 0.001 { format!("{:.2} %", 100.0 * p) } else { format!("{:.1} %", 100.0 * p) };
    let Some(best) = alike.first() else { return "no family was compared".to_owned() };
    // Of all lamps, or of those that fail within the window.
    let (put, lamps) = match within {
        Some(upper) => (format!(" of the failures within {} h", full_hours(upper)), "the failures within the window"),
        None => (" failed".to_owned(), "failed lamps"),
    };
    if alike.len() == 1 {
        let failed = percent(best.failed);
        let age = full_hours(age);
        if tried == 1 {
            let family = in_words(&best.family);
            return format!("one family was tried, {family}, and nothing compared; it puts {failed}{put} by {age} h");
        }
        let family = in_words(&best.family);
        return format!(
            "of the {tried} families tried {family} alone stands out, which does not say that it fits; it puts \
             {failed}{put} by {age} h"
        );
    }
    let each: Vec<String> = alike.iter().map(|r| format!("{} {}", in_words(&r.family), percent(r.failed))).collect();
    let pair = match alike.len() {
        some if some < tried => format!("{some} of the {tried} families tried"),
        2 => "both families".to_owned(),
        all => format!("{all} families"),
    };
    let points = format!("{:.1} points", 100.0 * disagreement);
    let tail = if beyond {
        ", more than the interval of the best fit admits: state them all"
    } else {
        ", less than what chance alone leaves open"
    };
    format!(
        "{pair} fit equally well and disagree at {} h by {points} of {lamps}: {}{tail}",
        full_hours(age),
        each.join(", ")
    )
}
