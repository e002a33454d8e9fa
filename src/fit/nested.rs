//! Likelihood-ratio test of a family within a wider one, by the law that holds for the pair.

use serde::{Deserialize, Serialize};

use super::distance::{Plan, check, cut_note, replicated, unsettled};
use super::identified::UNASKED;
use super::information::same_records;
use super::model::{Fit, Note};
use super::peaks::{Missed, has_peaks};
use super::sample::Sample;
use super::search::{FitOptions, fit, fit_or_edge};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::special::ln_gamma_q;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, family};
use crate::lives::Tally;
use crate::records::Ending;

/// The law of the statistic under the narrow family.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RatioLaw {
    /// Chi-square: the narrow family lies inside the wide one's range.
    #[default]
    ChiSquare,
    /// 0 with probability one half, else chi-square: the narrow family lies on the edge of the range.
    HalfChiSquare,
    /// Samples drawn from the narrow fit under the records' own censoring, each fitted by both families.
    ParametricBootstrap,
}

/// A likelihood-ratio test of two fits of the same records.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LikelihoodRatio {
    /// The family with fewer parameters.
    pub narrow: String,
    /// The family that holds it.
    pub wide: String,
    /// Twice the difference of the log-likelihoods.
    pub statistic: f64,
    /// Degrees of freedom of the chi-square law under the narrow family, or of its half above 0: parameters that it fixes.
    pub degrees_of_freedom: u64,
    /// The law behind the chance.
    #[serde(default)]
    pub law: RatioLaw,
    /// Replicates behind it; 0 for a law in closed form.
    #[serde(default)]
    pub replicates: u64,
    /// Chance of a statistic at least this large if the narrow family holds.
    pub p_value: f64,
    /// What the narrow family says of the wide one's parameters.
    pub restriction: String,
    /// What a reader must know beside the numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Note>,
}

impl Sound for LikelihoodRatio {
    fn check(&self, c: &mut Checks) {
        c.not_negative("statistic", self.statistic);
        c.need("degrees_of_freedom", self.degrees_of_freedom > 0, self.degrees_of_freedom, "1 or more");
        c.share("p_value", self.p_value);
        let (narrow, wide) = (family(&self.narrow), family(&self.wide));
        c.need("narrow", narrow.is_ok(), &self.narrow, "the name of a family");
        c.need("wide", wide.is_ok(), &self.wide, "the name of a family");
        if let (Ok(narrow), Ok(wide)) = (narrow, wide) {
            let fixed = wide.width().saturating_sub(narrow.width()) as u64;
            c.follows("degrees_of_freedom", &self.degrees_of_freedom, &fixed);
            if self.law != RatioLaw::ParametricBootstrap {
                c.follows("law", &Some(self.law), &nesting(&self.narrow, wide).map(|n| n.1));
            }
        }
        if self.law == RatioLaw::ParametricBootstrap {
            replicated(c, "p_value", self.p_value, self.replicates);
        } else {
            c.equal("p_value", self.p_value, chance(self.law, self.degrees_of_freedom, self.statistic));
            c.follows("replicates", &self.replicates, &0);
        }
    }
}

/// Narrow family, wide family, how the wide one is restricted, and the law: chi-square only where the restriction lies
/// inside the wide family's range, the half law where it lies on its edge and the likelihood is smooth there.
const NESTED: [(&str, &str, &str, RatioLaw); 7] = [
    ("exponential", "weibull", "shape is 1", RatioLaw::ChiSquare),
    ("exponential", "gamma", "shape is 1", RatioLaw::ChiSquare),
    ("exponential", "gompertz", "the hazard does not grow", RatioLaw::HalfChiSquare),
    ("exponential", "generalised_gamma", "scale and shape are 1", RatioLaw::ChiSquare),
    ("weibull", "generalised_gamma", "shape is 1", RatioLaw::ChiSquare),
    ("lognormal", "generalised_gamma", "shape is 0", RatioLaw::ChiSquare),
    ("gamma", "generalised_gamma", "shape is equal to scale", RatioLaw::ChiSquare),
];

/// The restriction and the law of a pair; none where no closed law is known.
fn nesting(narrow: &str, wide: &dyn Family) -> Option<(&'static str, RatioLaw)> {
    if wide.name() == format!("never_fails({narrow})") {
        return Some(("no lamp lasts for ever", RatioLaw::HalfChiSquare));
    }
    // A hazard in pieces is an even one where all are equal.
    if narrow == "exponential" && !wide.cuts().is_empty() {
        return Some(("all hazards are equal", RatioLaw::ChiSquare));
    }
    NESTED.iter().find(|(n, w, ..)| (*n, *w) == (narrow, wide.name())).map(|&(.., how, law)| (how, law))
}

/// Tests whether a family with fewer parameters is enough.
///
/// # Formula
/// ```text
/// statistic = 2 (ln L wide - ln L narrow)
/// inside the range:    p = P(chi-square with k degrees of freedom >= statistic)
/// on its edge, k = 1:  p = half of that chance;  1 where the statistic is 0
/// ```
/// k: parameters that the narrow family fixes. Where the narrow family lies on the edge of the wide one's range, half of the
/// samples have their maximum on the edge and a statistic of 0: there p is half of the chi-square chance, and 1 at 0.
/// Both laws hold for many failures; below about 20 they are a guide, and [`likelihood_ratio_bootstrap`] is better.
///
/// # Arguments
/// `tally` and `options`: the records behind both fits, which are checked as in [`super::information_table`].
///
/// # Errors
/// `fit.not_nested` for a pair without a closed law; `fit.below_narrow` if the wide fit lies below the narrow one;
/// `fit.other_records`, `fit.not_converged`.
///
/// # Source
/// S. S. Wilks (1938), Annals of Mathematical Statistics 9, 60-62; on the edge: H. Chernoff (1954), same journal 25,
/// 573-578; S. G. Self and K.-Y. Liang (1987), JASA 82, 605-610. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, fit, likelihood_ratio};
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let (options, run) = (FitOptions::default(), Run::new());
/// let even = fit(family("exponential")?, &tally, &options, &run)?;
/// let wear = fit(family("weibull")?, &tally, &options, &run)?;
/// let test = likelihood_ratio(&tally, &options, &even, &wear)?;
/// assert!(test.p_value < 0.05 && test.degrees_of_freedom == 1);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn likelihood_ratio(tally: &Tally, options: &FitOptions, narrow: &Fit, wide: &Fit) -> Result<LikelihoodRatio> {
    let (a, b) = (narrow.family_name(), wide.family_name());
    let Some((restriction, law)) = nesting(a, wide.family()?) else {
        let mut known: Vec<String> = NESTED.iter().map(|(n, w, ..)| format!("{n} within {w}")).collect();
        known.push("exponential within piecewise_constant(...)".to_owned());
        known.push("a family within itself with a share that never fails".to_owned());
        let problem = Problem::new("fit.not_nested", "no likelihood-ratio test in closed form for these two families")
            .at(Place::input("fits"))
            .got(format!("{a} within {b}"))
            .expected(known.join(", "));
        let hint =
            "if the one holds the other, test by parametric bootstrap; else compare them by information criteria";
        return Err(Error::new(Kind::Input, problem).with_hint(hint));
    };
    same_records(tally, options, &[narrow, wide])?;
    let degrees_of_freedom = wide.coordinates().len().saturating_sub(narrow.coordinates().len()) as u64;
    let statistic = rise(narrow.log_likelihood(), wide.log_likelihood())?;
    Ok(LikelihoodRatio {
        narrow: a.to_owned(),
        wide: b.to_owned(),
        statistic,
        degrees_of_freedom,
        law,
        replicates: 0,
        p_value: chance(law, degrees_of_freedom, statistic),
        restriction: restriction.to_owned(),
        notes: Vec::new(),
    })
}

/// Log-likelihood by which a search, or a limit that it came near, may fall short of the true maximum.
const SHORT: f64 = 2e-3;

/// Twice the rise from the narrow family's log-likelihood to the wide one's. Rounding may put the wider below, and no more.
fn rise(narrow: f64, wide: f64) -> Result<f64> {
    let rise = wide - narrow;
    if rise >= -SHORT {
        return Ok((2.0 * rise).max(0.0));
    }
    let what = "the wide family lies below the narrow one: it does not hold it, or its search missed the maximum";
    let problem = Problem::new("fit.below_narrow", what).at(Place::input("wide"));
    let problem = problem.got(format!("log-likelihood {wide:.6}")).expected(format!("{narrow:.6} or more"));
    Err(Error::new(Kind::Refused, problem))
}

/// Chance of a rise of the log-likelihood as large where the narrow family holds and lies on the edge of the wide one's
/// range; none for every other pair.
pub(super) fn chance_on_the_edge(narrow: &str, wide: &dyn Family, rise: f64) -> Option<f64> {
    let (_, law) = nesting(narrow, wide).filter(|(_, law)| *law == RatioLaw::HalfChiSquare)?;
    Some(chance(law, 1, (2.0 * rise).max(0.0)))
}

fn chance(law: RatioLaw, degrees_of_freedom: u64, statistic: f64) -> f64 {
    let plain = ln_gamma_q(0.5 * degrees_of_freedom as f64, 0.5 * statistic).exp();
    match law {
        RatioLaw::HalfChiSquare if statistic > 0.0 => 0.5 * plain,
        _ => plain,
    }
}

/// Tests whether a family with fewer parameters is enough, by samples drawn from it: for pairs without a closed law, on the
/// edge of a range or beyond it, and for few failures.
///
/// # Formula
/// ```text
/// p = (1 + replicates with a statistic at least as large) / (1 + replicates)
/// ```
/// A replicate draws the life of every lamp from the narrow fit, cut at age 0 where that reaches below it, censors it as in
/// [`super::distance_test`], and is fitted by both families. The records are fitted as in [`super::fit`]: from many starts, and on from where a profile rises above
/// the peak. So is a replicate, but with a few steps along each profile in place of the whole, and no farther than to a
/// statistic as large as that of the records. Where the wide family has no inner maximum, its likelihood counts as it is at the edge or in the limit
/// to which it rises. A replicate whose wide likelihood has no bound, or none that is known, counts as at least as large.
///
/// # Arguments
/// The caller answers for the wide family holding the narrow one. `endings`: those that count as failure. None: all
/// failures count. `replicates`: 99 or more, such as 999.
///
/// # Errors
/// Those of [`super::fit`] for the narrow family, and for the wide one where its likelihood has no bound that is known;
/// `fit.below_narrow` if the wide family lies below the narrow one; `fit.not_nested` if the wide one has no more
/// parameters than the narrow one; `fit.distance_rows`, `fit.distance_too_many`, `fit.replicates` as in
/// [`super::distance_test`]; `fit.replicate_unsettled` if fewer than half of the replicates settled.
///
/// # Source
/// G. J. `McLachlan` (1987), Applied Statistics 36, 318-324, for mixtures. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::likelihood_ratio_bootstrap;
/// use relamp::lives::{Rows, Tally};
/// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let (even, wear) = (family("exponential")?, family("weibull")?);
/// let test = likelihood_ratio_bootstrap(even, wear, &tally, None, 199, 1, &Run::new())?;
/// assert!(test.p_value < 0.1);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn likelihood_ratio_bootstrap(
    narrow: &dyn Family,
    wide: &dyn Family,
    tally: &Tally,
    endings: Option<&[Ending]>,
    replicates: usize,
    seed: u64,
    run: &Run,
) -> Result<LikelihoodRatio> {
    if wide.width() <= narrow.width() {
        let problem = Problem::new("fit.not_nested", "the wide family has no more parameters than the narrow one")
            .at(Place::input("wide"))
            .got(format!("{} within {}", narrow.name(), wide.name()));
        return Err(Error::new(Kind::Input, problem));
    }
    let counted = endings.map(|e| tally.for_endings(e)).transpose()?;
    let tally = counted.as_ref().unwrap_or(tally);
    let tally = &*tally.informative();
    check(tally, replicates)?;
    let options = FitOptions::default();
    let under = fit(narrow, tally, &options, run)?;
    let life = under.life_at_maximum()?;
    // How high the wide family reaches: for the records as [`fit`] has it, for a replicate as far as `enough`.
    let highest = |tally: &Tally, enough: Option<f64>| -> Result<std::result::Result<f64, Missed>> {
        let sample = Sample::new(tally, None, None)?;
        match fit_or_edge(wide, &sample, &options, run) {
            Ok(over) if over.converged() => Ok(Ok(match enough {
                None => over.marked_unasked(tally, &options, run)?.log_likelihood(),
                Some(enough) if has_peaks(wide) && tally.rows() <= UNASKED => {
                    over.highest_on_profiles(tally, &options, enough, run)?
                }
                Some(_) => over.log_likelihood(),
            })),
            Ok(_) => Err(unsettled(1)),
            Err(missed) if missed.why.kind() == Kind::Refused => Ok(Err(missed)),
            Err(missed) => Err(missed.why),
        }
    };
    let top = highest(tally, None)?.or_else(|missed| missed.edge.ok_or(missed.why))?;
    let here = rise(under.log_likelihood(), top)?;
    let plan = Plan::new(tally)?;
    let answers = run.map(replicates, |i| {
        let again = plan.draw(life.as_ref(), &mut Stream::new(seed, "fit", "ratio", i as u64))?;
        let under = fit(narrow, &again, &options, run)?;
        // Only whether the statistic is as large is counted, so the search may end where it is.
        match highest(&again, Some(under.log_likelihood() + 0.5 * here))? {
            Ok(top) => rise(under.log_likelihood(), top),
            // A likelihood without a bound rises by more than any that has one.
            Err(missed) => missed.edge.map_or(Ok(f64::INFINITY), |top| rise(under.log_likelihood(), top)),
        }
    })?;
    let each: Vec<f64> = answers.into_iter().filter_map(Result::ok).collect();
    if 2 * each.len() < replicates {
        return Err(unsettled(replicates - each.len()));
    }
    let as_large = each.iter().filter(|s| **s >= here).count();
    Ok(LikelihoodRatio {
        narrow: narrow.name().to_owned(),
        wide: wide.name().to_owned(),
        statistic: here,
        degrees_of_freedom: (wide.width() - narrow.width()) as u64,
        law: RatioLaw::ParametricBootstrap,
        replicates: each.len() as u64,
        p_value: (1 + as_large) as f64 / (1 + each.len()) as f64,
        restriction: nesting(narrow.name(), wide).map_or("as the caller says", |n| n.0).to_owned(),
        notes: cut_note(life.as_ref(), narrow.name()).into_iter().collect(),
    })
}
