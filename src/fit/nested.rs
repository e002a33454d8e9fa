//! Likelihood-ratio test of a family within a wider one.

use serde::{Deserialize, Serialize};

use super::information::same_records;
use super::model::Fit;
use super::search::FitOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::special::ln_gamma_q;
use crate::base::sound::{Checks, Sound};
use crate::lives::Tally;

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
    /// Degrees of freedom of the chi-square law under the narrow family.
    pub degrees_of_freedom: u64,
    /// Chance of a statistic at least this large if the narrow family holds.
    pub p_value: f64,
    /// What the narrow family says of the wide one's parameters.
    pub restriction: String,
}

impl Sound for LikelihoodRatio {
    fn check(&self, c: &mut Checks) {
        c.not_negative("statistic", self.statistic);
        c.need("degrees_of_freedom", self.degrees_of_freedom > 0, self.degrees_of_freedom, "1 or more");
        c.share("p_value", self.p_value);
    }
}

/// Narrow family, wide family, parameters fixed, and how. Each restriction lies inside the wide family's box, where the
/// chi-square law holds; one on its edge would need another law and must not stand here.
const NESTED: [(&str, &str, u64, &str); 1] = [("exponential", "weibull", 1, "shape is 1")];

/// Tests whether a family with fewer parameters is enough.
///
/// # Formula
/// ```text
/// statistic = 2 (ln L wide - ln L narrow), p = P(chi-square with k degrees of freedom >= statistic)
/// ```
/// k: parameters that the narrow family fixes. The law holds for many failures; below about 20 it is a guide.
///
/// # Arguments
/// `tally` and `options`: the records behind both fits, which are checked as in [`super::information_table`].
///
/// # Errors
/// `fit.not_nested` for families that are not known to be nested with the fixed values inside the box;
/// `fit.other_records`, `fit.not_converged`.
///
/// # Source
/// S. S. Wilks (1938), Annals of Mathematical Statistics 9, 60-62. From memory.
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
    let Some(&(.., degrees_of_freedom, restriction)) = NESTED.iter().find(|(n, w, ..)| (*n, *w) == (a, b)) else {
        let known: Vec<String> = NESTED.iter().map(|(n, w, ..)| format!("{n} within {w}")).collect();
        let problem = Problem::new("fit.not_nested", "no likelihood-ratio test for these two families")
            .at(Place::input("fits"))
            .got(format!("{a} within {b}"))
            .expected(known.join(", "));
        return Err(Error::new(Kind::Input, problem).with_hint("compare them by information criteria"));
    };
    same_records(tally, options, &[narrow, wide])?;
    // Rounding may put the wider maximum below the narrow one.
    let statistic = (2.0 * (wide.log_likelihood() - narrow.log_likelihood())).max(0.0);
    Ok(LikelihoodRatio {
        narrow: a.to_owned(),
        wide: b.to_owned(),
        statistic,
        degrees_of_freedom,
        p_value: ln_gamma_q(0.5 * degrees_of_freedom as f64, 0.5 * statistic).exp(),
        restriction: restriction.to_owned(),
    })
}
