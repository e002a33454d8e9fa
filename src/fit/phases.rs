//! Does one life hide two phases: early failures and late ones that follow different laws?

use serde::{Deserialize, Serialize};

use super::distance::{Plan, check, replicated, unsettled};
use super::model::Fit;
use super::sample::Sample;
use super::search::{FitOptions, fit, fit_sample};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::{self, full_hours};
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::family;
use crate::lives::{Rows, Tally};
use crate::records::Ending;

/// One Weibull life against two, one before an age and one after it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Phases {
    /// Age at which the two lives meet best, hours.
    pub age_hours: f64,
    /// Shape before it, from failures up to it.
    pub early_shape: f64,
    /// Shape after it, from lamps that reached it.
    pub late_shape: f64,
    /// Shape of the one life.
    pub one_shape: f64,
    /// Twice the rise of the log-likelihood, at the best age.
    pub statistic: f64,
    /// Chance of a rise at least this large if one life holds.
    pub p_value: f64,
    /// Replicates behind it.
    pub replicates: u64,
    /// Whether the chance is below 5 %.
    pub two_phases: bool,
    /// The answer in plain words.
    pub verdict: String,
}

impl Sound for Phases {
    fn check(&self, c: &mut Checks) {
        for (field, x) in
            [("age_hours", self.age_hours), ("early_shape", self.early_shape), ("late_shape", self.late_shape)]
        {
            c.positive(field, x);
        }
        c.positive("one_shape", self.one_shape);
        c.not_negative("statistic", self.statistic);
        replicated(c, "p_value", self.p_value, self.replicates);
        c.need("two_phases", self.two_phases == (self.p_value < DOUBTFUL), self.two_phases, "a chance below 0.05");
    }
}

/// Ages at which a bend is looked for, as shares of the failures.
const SHARES: [f64; 7] = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8];
/// Failures wanted on each side of the age.
const PER_SIDE: u64 = 5;
/// Chance below which the verdict is two phases.
const DOUBTFUL: f64 = 0.05;

/// Compares one Weibull life with two that meet at an age, the age chosen by the likelihood.
///
/// # Formula
/// ```text
/// statistic = max over ages a of 2 (ln L of lamps up to a + ln L of lamps past a, given that they reached it - ln L of one life)
/// ```
/// On a Weibull probability plot this is a line with one bend. The ages are those by which 20, 30, ... 80 % of the failures
/// had come, with five failures or more on both sides. The chance comes from samples drawn from the one life under the
/// records' own censoring, each searched in the same way; chi-square would be wrong, since the age is chosen.
///
/// # Arguments
/// `endings`: those that count as failure. None: all failures count. `replicates`: 99 or more, such as 499.
///
/// # Errors
/// Those of [`super::fit`]; `fit.phases_failures` with fewer than ten failures or none of the ages free;
/// `fit.distance_rows`, `fit.distance_too_many`, `fit.replicates` as in [`super::distance_test`];
/// `fit.replicate_unsettled` if fewer than half of the replicates settled.
///
/// # Source
/// Bends of a Weibull plot by mixed phases: Meeker & Escobar, Statistical Methods for Reliability Data (1998), chapter 6;
/// bootstrap of a chosen change: D. Hinkley and E. Schechtman (1987), Technometrics 29, 407-416. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::fit::phases;
/// use relamp::lives::{Rows, Tally};
/// // A dozen early failures, then wear-out about 3,000 h.
/// let ages: Vec<f64> = (1..=12).map(|i| 9.0 * f64::from(i * i)).chain((0..18).map(|i| 2700.0 + 35.0 * f64::from(i))).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let found = phases(&tally, None, 99, 1, &Run::new())?;
/// assert!(found.two_phases && found.early_shape < 1.5 && found.late_shape > 5.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn phases(tally: &Tally, endings: Option<&[Ending]>, replicates: usize, seed: u64, run: &Run) -> Result<Phases> {
    let counted = endings.map(|e| tally.for_endings(e)).transpose()?;
    let tally = counted.as_ref().unwrap_or(tally);
    let tally = &*tally.informative();
    check(tally, replicates)?;
    let weibull = family("weibull")?;
    let one = fit(weibull, tally, &FitOptions::default(), run)?;
    let Some(best) = bend(tally, &one, run)? else {
        let problem = Problem::new("fit.phases_failures", "too few failures to tell two phases apart")
            .got(figure::counted(tally.failures(), "failure"))
            .expected("five or more on both sides of an age");
        return Err(Error::new(Kind::Refused, problem));
    };
    let (life, plan) = (one.life_at_maximum()?, Plan::new(tally)?);
    let answers = run.map(replicates, |i| {
        let again = plan.draw(life.as_ref(), &mut Stream::new(seed, "fit", "phases", i as u64))?;
        let one = fit(weibull, &again, &FitOptions::default(), run)?;
        Ok(bend(&again, &one, run)?.map_or(0.0, |b| b.statistic))
    })?;
    let each: Vec<f64> = answers.into_iter().filter_map(Result::ok).collect();
    if 2 * each.len() < replicates {
        return Err(unsettled(replicates - each.len()));
    }
    let as_large = each.iter().filter(|s| **s >= best.statistic).count();
    let p_value = (1 + as_large) as f64 / (1 + each.len()) as f64;
    let two_phases = p_value < DOUBTFUL;
    let (age, early, late) = (best.age, best.early, best.late);
    let verdict = if two_phases {
        format!(
            "one Weibull life hides two phases (p = {p_value:.3}): up to about {} h {}, after it {}",
            full_hours(age),
            words(early),
            words(late)
        )
    } else {
        format!("no sign of two phases among {} (p = {p_value:.3})", figure::counted(tally.failures(), "failure"))
    };
    Ok(Phases {
        age_hours: age,
        early_shape: early,
        late_shape: late,
        one_shape: one.parameter_at_maximum("shape").unwrap_or(f64::NAN),
        statistic: best.statistic,
        p_value,
        replicates: each.len() as u64,
        two_phases,
        verdict,
    })
}

fn words(shape: f64) -> String {
    let what = if shape < 0.9 {
        "failures grow rarer"
    } else if shape > 1.1 {
        "failures come with wear"
    } else {
        "failures come evenly"
    };
    format!("{what} (shape {shape:.2})")
}

struct Bend {
    age: f64,
    early: f64,
    late: f64,
    statistic: f64,
}

/// The age at which two lives rise most above one; none where no age has failures enough on both sides.
fn bend(tally: &Tally, one: &Fit, run: &Run) -> Result<Option<Bend>> {
    let mut failed: Vec<(f64, u64)> = (tally.low().iter().zip(tally.high()).zip(tally.count()))
        .filter(|((_, high), _)| **high < f64::INFINITY)
        .map(|((low, _), n)| (*low, *n))
        .collect();
    failed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: u64 = failed.iter().map(|f| f.1).sum();
    let mut ages = Vec::new();
    for share in SHARES {
        let (mut sum, want) = (0, share * all as f64);
        let age = failed.iter().find_map(|(age, n)| {
            sum += n;
            (sum as f64 >= want).then_some(*age)
        });
        if let Some(age) = age.filter(|_| sum >= PER_SIDE && all - sum >= PER_SIDE)
            && !ages.contains(&age)
        {
            ages.push(age);
        }
    }
    let mut best: Option<Bend> = None;
    for age in ages {
        let (before, after) = cut(tally, age)?;
        // Neither marks nor other families are asked for: a hundred samples come here for one answer.
        let options = FitOptions::default();
        let piece = |part: &Tally| match fit_sample(family("weibull")?, &Sample::new(part, None, None)?, &options, run)
        {
            Ok(fit) if fit.converged() && fit.has_maximum().is_ok() => {
                Ok(fit.parameter_at_maximum("shape").map(|s| (s, fit.log_likelihood())))
            }
            Ok(_) => Ok(None),
            Err(error) if error.kind() == Kind::Refused => Ok(None),
            Err(error) => Err(error),
        };
        let (Some((early, first)), Some((late, second))) = (piece(&before)?, piece(&after)?) else { continue };
        let statistic = (2.0 * (first + second - one.log_likelihood())).max(0.0);
        if best.as_ref().is_none_or(|b| statistic > b.statistic) {
            best = Some(Bend { age, early, late, statistic });
        }
    }
    Ok(best)
}

/// Lamps up to an age, and those past it from that age on.
fn cut(tally: &Tally, age: f64) -> Result<(Tally, Tally)> {
    let (mut before, mut after) = (Rows::default(), Rows { entry: Some(Vec::new()), ..Rows::default() });
    let (mut early, mut late) = (Vec::new(), Vec::new());
    for ((&low, &high), &n) in tally.low().iter().zip(tally.high()).zip(tally.count()) {
        before.low.push(low.min(age));
        before.high.push(if low <= age { high } else { f64::INFINITY });
        early.push(n);
        if low > age {
            after.low.push(low);
            after.high.push(high);
            late.push(n);
        }
    }
    after.entry = Some(vec![age; after.low.len()]);
    (before.count, after.count) = (Some(early), Some(late));
    Ok((Tally::from_rows(&before)?.0, Tally::from_rows(&after)?.0))
}
