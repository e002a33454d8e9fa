//! One walk over a tally: numbers at risk and failures at every age at which a lamp failed.

use std::borrow::Cow;

use rayon::prelude::*;

use super::curve::CurveOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::lives::Tally;

/// The ages at which lamps failed, from the start of the curve on, and what was seen there.
#[derive(Clone, Debug, Default)]
pub(super) struct Steps {
    pub ages: Vec<f64>,
    pub at_risk: Vec<u64>,
    pub failures: Vec<u64>,
    /// Probability to pass each age, given survival to the start.
    pub reliability: Vec<f64>,
    /// Failures by ending at each age: (index into ages, ending code, count), in order of age; empty unless asked for.
    pub by_ending: Vec<(usize, u16, u64)>,
    /// Age that the curve is given survival to; 0 for a curve from new.
    pub conditional_from: f64,
    /// Largest age at which a lamp was under observation.
    pub last_age: f64,
    /// Lamps seen working past the step at which the curve drops to zero.
    pub past_zero: u64,
}

/// Refuses a level that is none.
pub(crate) fn check_level(level: f64) -> Result<()> {
    if level > 0.0 && level < 1.0 {
        return Ok(());
    }
    let problem = Problem::new("empirical.level", "level is not a probability inside (0, 1)")
        .at(Place::input("level"))
        .got(level)
        .expected("above 0 and below 1, such as 0.95");
    Err(Error::new(Kind::Domain, problem))
}

/// The tally with intervals read as asked, and its checks.
pub(super) fn prepare<'a>(tally: &'a Tally, options: &CurveOptions) -> Result<Cow<'a, Tally>> {
    check_level(options.level)?;
    let tally = tally.informative();
    check_usable(&tally)?;
    let intervals = tally.interval_failures();
    match options.reading {
        _ if intervals == 0 => Ok(tally),
        Some(reading) => Ok(Cow::Owned(tally.read_intervals(reading)?)),
        None => {
            let problem = Problem::new("empirical.interval_rows", "some failures are known only to an interval")
                .at(Place::input("tally"))
                .got(format!("{intervals} such failures"))
                .expected("a named reading: upper, midpoint or lower");
            Err(Error::new(Kind::Refused, problem))
        }
    }
}

/// Refuses what gives no numbers at risk.
pub(super) fn check_usable(tally: &Tally) -> Result<()> {
    if tally.lamps() == 0 {
        let problem = Problem::new("empirical.no_lamps", "no lamps, so no curve").at(Place::input("tally"));
        return Err(Error::new(Kind::Refused, problem));
    }
    if tally.upper().is_some() {
        let problem = Problem::new("empirical.upper", "records that show failures only give no numbers at risk")
            .at(Place::input("tally").column("upper"))
            .expected("rows without upper");
        return Err(Error::new(Kind::Refused, problem));
    }
    Ok(())
}

/// Walks the rows once in order of age. At risk at an age: entry < age <= exit; failures come before censorings.
pub(super) fn walk(tally: &Tally, options: &CurveOptions, by_ending: bool) -> Result<Steps> {
    let (low, high, count, ending) = (tally.low(), tally.high(), tally.count(), tally.ending());
    let entries = late_entries(tally);
    let lamps = tally.lamps();
    let mut entered = lamps - entries.iter().map(|e| e.1).sum::<u64>();
    let start = start(tally, &entries, entered, options)?;
    // Room for every step at once: growing columns of a million steps costs more than the walk.
    let failed = high.iter().filter(|h| **h < f64::INFINITY).count();
    let mut steps = Steps {
        ages: Vec::with_capacity(failed),
        at_risk: Vec::with_capacity(failed),
        failures: Vec::with_capacity(failed),
        reliability: Vec::with_capacity(failed),
        by_ending: Vec::with_capacity(if by_ending { failed } else { 0 }),
        conditional_from: start.unwrap_or(0.0),
        ..Steps::default()
    };
    let mut waiting = entries.into_iter().peekable();
    let mut left = 0_u64;
    // Between losses and entries the factors (n - d) / n telescope: one division keeps an uncensored curve exact.
    let (mut base, mut base_at_risk, mut expected_at_risk, mut reliability) = (1.0, 0_u64, 0_u64, 1.0);
    let mut i = 0;
    while let Some(&age) = low.get(i) {
        while let Some((_, more)) = waiting.next_if(|&(entry, _)| entry < age) {
            entered += more;
        }
        let at_risk = entered - left;
        let counted = start.is_none_or(|start| age > start);
        let mut failed = 0;
        while let (Some(&here), Some(&to), Some(&n), Some(&why)) =
            (low.get(i), high.get(i), count.get(i), ending.get(i))
        {
            if here != age {
                break;
            }
            i += 1;
            if n == 0 {
                continue;
            }
            left += n;
            steps.last_age = age;
            if to == age && counted {
                failed += n;
                if by_ending {
                    steps.by_ending.push((steps.ages.len(), why, n));
                }
            }
        }
        if failed == 0 {
            continue;
        }
        if at_risk != expected_at_risk {
            (base, base_at_risk) = (reliability, at_risk);
        }
        expected_at_risk = at_risk - failed;
        if expected_at_risk == 0 && reliability > 0.0 {
            steps.past_zero = lamps - left;
        }
        reliability = base * (expected_at_risk as f64 / base_at_risk as f64);
        steps.ages.push(age);
        steps.at_risk.push(at_risk);
        steps.failures.push(failed);
        steps.reliability.push(reliability);
    }
    Ok(steps)
}

/// Lamps under observation from new, and just after each age at which some came or went other than by a failure past `from`:
/// with the steps of a curve, all numbers at risk.
pub(super) fn watched(tally: &Tally, from: f64) -> (Vec<f64>, Vec<u64>) {
    let (low, high, count) = (tally.low(), tally.high(), tally.count());
    let entries = late_entries(tally);
    let (mut entered, mut left) = (tally.lamps() - entries.iter().map(|e| e.1).sum::<u64>(), 0);
    let (mut ages, mut lamps) = (vec![0.0], vec![entered]);
    let mut push = |age: f64, n: u64| {
        if let (Some(last), true) = (lamps.last_mut(), ages.len() > 1 && ages.last() == Some(&age)) {
            *last = n;
        } else {
            ages.push(age);
            lamps.push(n);
        }
    };
    let mut waiting = entries.into_iter().peekable();
    let mut i = 0;
    while let Some(&age) = low.get(i) {
        while let Some((entry, more)) = waiting.next_if(|&(entry, _)| entry < age) {
            entered += more;
            push(entry, entered - left);
        }
        let mut gone = false;
        while let (Some(&here), Some(&to), Some(&n)) = (low.get(i), high.get(i), count.get(i)) {
            if here != age {
                break;
            }
            i += 1;
            left += n;
            gone |= n > 0 && (to != here || age <= from);
        }
        if gone {
            push(age, entered - left);
        }
    }
    (ages, lamps)
}

/// Lamps at risk at an age, from the steps of a curve (age, at risk, failures) and from those watched between them; see
/// [`super::Curve::at_risk_at`].
pub(super) fn at_risk_at(
    age: f64,
    (ages, step): (&[f64], impl Fn(usize) -> Option<(u64, u64)>),
    (watched_ages, watched): (&[f64], &[u64]),
) -> Option<u64> {
    if watched_ages.is_empty() || age.is_nan() || age < 0.0 {
        return None;
    }
    let before = |ages: &[f64]| ages.partition_point(|a| *a < age).checked_sub(1);
    let seen = before(watched_ages).unwrap_or(0);
    match before(ages) {
        // Whatever else happened at the age of a step is counted after it.
        Some(i) if seen == 0 || watched_ages.get(seen)? < ages.get(i)? => {
            step(i).map(|(at_risk, failures)| at_risk.saturating_sub(failures))
        }
        _ => watched.get(seen).copied(),
    }
}

/// Ages above 0 at which lamps came under observation, ascending, with how many.
pub(super) fn late_entries(tally: &Tally) -> Vec<(f64, u64)> {
    let Some(entry) = tally.entry() else { return Vec::new() };
    let mut late: Vec<(f64, u64)> =
        entry.iter().zip(tally.count()).filter(|&(&e, &n)| e > 0.0 && n > 0).map(|(&e, &n)| (e, n)).collect();
    late.par_sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    late
}

/// Where the curve starts: none for new lamps; else the asked age, or with late entry the first from which
/// enough lamps are at risk.
fn start(tally: &Tally, entries: &[(f64, u64)], from_new: u64, options: &CurveOptions) -> Result<Option<f64>> {
    let asked = options.given_survival_to;
    if let Some(age) = asked
        && !(0.0..f64::INFINITY).contains(&age)
    {
        let problem = Problem::new("empirical.given_survival_to", "age to which survival is given is not an age")
            .at(Place::input("given_survival_to"))
            .got(age)
            .expected("finite hours from 0");
        return Err(Error::new(Kind::Domain, problem));
    }
    let asked = asked.filter(|&age| age > 0.0);
    let oldest = tally.oldest_at_risk().into_iter().chain(tally.oldest_failure()).fold(0.0, f64::max);
    if let Some(age) = asked
        && age >= oldest
    {
        let problem =
            Problem::new("empirical.given_survival_to", "no lamp is at risk past the age to which survival is given")
                .at(Place::input("given_survival_to"))
                .got(age)
                .expected(format!("below the oldest lamp at risk, {oldest} h"));
        return Err(Error::new(Kind::Refused, problem));
    }
    if entries.is_empty() {
        return Ok(asked);
    }
    let first = asked.unwrap_or(0.0);
    let candidates = std::iter::once(first).chain(entries.iter().map(|e| e.0).filter(|&e| e > first));
    let (mut entered, mut left, mut most) = (from_new, 0, 0);
    let mut exits = tally.low().iter().zip(tally.count()).peekable();
    let mut waiting = entries.iter().peekable();
    for candidate in candidates {
        while let Some((_, more)) = waiting.next_if(|e| e.0 <= candidate) {
            entered += more;
        }
        while let Some((_, gone)) = exits.next_if(|&(&exit, _)| exit <= candidate) {
            left += gone;
        }
        // A lamp censored at its entry has left by now and been counted in; a failure at age 0 is still to come.
        let at_risk = if candidate == 0.0 { from_new } else { entered - left };
        most = most.max(at_risk);
        if at_risk >= options.min_at_risk.max(1) {
            return Ok((candidate > 0.0).then_some(candidate));
        }
    }
    let problem = Problem::new("empirical.too_few_at_risk", "with late entry, too few lamps are at risk at any age")
        .at(Place::input("min_at_risk"))
        .got(format!("at most {} at once", counted(most, "lamp")))
        .expected(format!("{}", options.min_at_risk.max(1)));
    Err(Error::new(Kind::Refused, problem).with_hint("a smaller min_at_risk gives a curve that a single lamp can sink"))
}
