//! Whether one family, one set of numbers, holds for all lamps of a class.
//!
//! Failures seen are set against failures expected under the model, by age and by what might set lamps apart: batch,
//! site, supplier. If one model held, each lamp would bring its own cumulative hazard in expectation.

use std::collections::BTreeMap;

use super::class_result::{Comparison, FitCheck};
use crate::base::figure::counted;
use crate::base::math::special::{ln_gamma, ln_gamma_q};
use crate::base::math::sum;
use crate::empirical::Curve;
use crate::family::{Life, in_words};
use crate::fit::MISFIT_LEVEL;
use crate::records::{Ending, LifeRecord, Reading};

/// Groups with fewer expected failures are taken together: the chi-square needs a few in each.
///
/// Our choice, without a source: lower than the five often asked for, as sites are many and failures few.
const LEAST_EXPECTED: f64 = 2.0;

/// Failures seen and expected in one group.
#[derive(Clone, Debug, Default)]
struct Cell {
    seen: f64,
    expected: Vec<f64>,
}

/// Compares a fitted life with the records; `p_age` is the answer of the fit's own check over ages.
///
/// # Formula
/// ```text
/// sum over groups of (seen - expected)^2 / expected, against chi-square with groups - 1 degrees of freedom
/// most telling group: groups x 2 x the tail of Poisson(expected) at what was seen
/// expected = sum over lamps of H(exit) - H(entry)
/// p = 2 x the smaller of both, at most 1
/// ```
/// The sum sees groups that all differ a little and is blind to one bad site among forty; the most telling group is the
/// other way round.
///
/// H: cumulative hazard of the model. A failure known to an interval counts at its midpoint. A comparison speaks against
/// one family if its probability, times the number of comparisons, is below 0.01.
pub(super) fn fit_check(
    life: &dyn Life,
    family: &str,
    lives: &[LifeRecord<'_>],
    reading: &Reading,
    failures: &[Ending],
    curve: Option<&Curve>,
    p_age: Option<f64>,
) -> FitCheck {
    let gap = curve.and_then(|c| {
        largest_gap(life, c.conditional_from(), c.ages().iter().copied().zip(c.reliability().iter().copied()))
    });
    let site = |l: &LifeRecord<'_>| reading.last_spell(l).map_or(String::new(), |s| s.site.to_string());
    let mut comparisons = Vec::new();
    comparisons.extend(p_age.map(|p| Comparison {
        by: "age".to_owned(),
        p_value_probability: p,
        differs: false,
        stands_out: String::new(),
    }));
    comparisons.extend(by_group(life, "batch", lives, failures, &|l| l.batch.to_string()));
    comparisons.extend(by_group(life, "site", lives, failures, &site));
    comparisons.extend(by_group(life, "supplier", lives, failures, &|l| l.supplier.to_string()));
    // As many chances to be wrong as comparisons: each counts with its share.
    let made = comparisons.len() as f64;
    for c in &mut comparisons {
        c.differs = c.p_value_probability * made < MISFIT_LEVEL;
    }
    let worst = comparisons.iter().min_by(|a, b| a.p_value_probability.total_cmp(&b.p_value_probability));
    FitCheck {
        holds: !comparisons.iter().any(|c| c.differs),
        sentence: sentence(family, &comparisons),
        largest_gap_probability: gap.map(|g| g.1),
        largest_gap_age_hours: gap.map(|g| g.0),
        p_value_probability: worst.map(|w| w.p_value_probability),
        compared: worst.map_or_else(String::new, |w| w.by.clone()),
        comparisons,
    }
}

/// What the comparisons say, in plain words.
pub(super) fn sentence(family: &str, comparisons: &[Comparison]) -> String {
    let family = in_words(family);
    if comparisons.is_empty() {
        return "too few failures to check whether one family fits".to_owned();
    }
    let against: Vec<String> = comparisons
        .iter()
        .filter(|c| c.differs)
        .map(|c| {
            let p = short(c.p_value_probability);
            if c.stands_out.is_empty() {
                format!("by {} (p {p})", c.by)
            } else {
                format!("by {} (p {p}; {})", c.by, c.stands_out)
            }
        })
        .collect();
    if against.is_empty() {
        let by: Vec<&str> = comparisons.iter().map(|c| c.by.as_str()).collect();
        return format!("nothing speaks against one {family} life for all lamps of this class ({})", by.join(", "));
    }
    if comparisons.iter().all(|c| !c.differs || c.by == "age") {
        return format!(
            "one {family} life does not follow the ages at which lamps of this class failed: they differ from it more than \
             chance allows {}; the curve without a family is the safer reading",
            against.join(", ")
        );
    }
    format!(
        "one {family} life does not fit all lamps of this class alike: failures differ more than chance allows {}; the \
         figures are those of the mix as recorded, and the curve without a family is the safer reading",
        against.join(", ")
    )
}

fn short(p: f64) -> String {
    if p < 1e-4 { "< 0.0001".to_owned() } else { format!("= {p:.4}") }
}

/// The end of a life for counting: a failure known to an interval at its midpoint.
fn exit(life: &LifeRecord<'_>, failures: &[Ending]) -> (f64, bool) {
    if failures.contains(&life.ending) {
        (f64::midpoint(life.low_hours, life.end_hours), true)
    } else {
        (life.low_hours, false)
    }
}

/// Stretches of age under observation, the last one cut at the exit.
fn stretches(life: &LifeRecord<'_>, exit: f64) -> impl Iterator<Item = (f64, f64)> {
    life.at_risk.iter().map(move |&(from, to)| (from, to.min(exit))).filter(|(from, to)| to > from)
}

fn by_group(
    life: &dyn Life,
    what: &str,
    lives: &[LifeRecord<'_>],
    failures: &[Ending],
    group: &dyn Fn(&LifeRecord<'_>) -> String,
) -> Option<Comparison> {
    let mut table: BTreeMap<String, Cell> = BTreeMap::new();
    for l in lives {
        let (end, failed) = exit(l, failures);
        let cell = table.entry(group(l)).or_default();
        cell.seen += f64::from(u8::from(failed));
        cell.expected.extend(stretches(l, end).map(|(a, b)| life.cumulative_hazard(b) - life.cumulative_hazard(a)));
    }
    chi_square(what, table)
}

/// Chance of a count as far out as this one on its own side, under a Poisson law.
fn tail(seen: f64, expected: f64) -> f64 {
    if seen <= expected {
        return ln_gamma_q(seen + 1.0, expected).exp();
    }
    // One less the rest would lose a small chance in rounding: its terms fall from the first on.
    let first = (seen * expected.ln() - expected - ln_gamma(seen + 1.0)).exp();
    let (mut sum, mut term, mut count) = (1.0, 1.0, seen);
    while term > f64::EPSILON * sum {
        count += 1.0;
        term *= expected / count;
        sum += term;
    }
    first * sum
}

/// Name of the cells with few expected failures.
const TOGETHER: &str = "the smallest ones together";

/// Cells with few expected failures are taken together in their order until each has enough.
fn chi_square(what: &str, table: BTreeMap<String, Cell>) -> Option<Comparison> {
    let mut cells: Vec<(String, f64, f64)> = Vec::new();
    let mut rest = (0.0, 0.0);
    for (name, cell) in table {
        let expected = sum::sum(&cell.expected);
        if expected >= LEAST_EXPECTED {
            cells.push((name, cell.seen, expected));
        } else {
            rest = (rest.0 + cell.seen, rest.1 + expected);
        }
    }
    if rest.1 >= LEAST_EXPECTED {
        cells.push((TOGETHER.to_owned(), rest.0, rest.1));
    }
    let degrees = cells.len().checked_sub(1).filter(|&d| d > 0)?;
    let part = |c: &(String, f64, f64)| (c.1 - c.2).powi(2) / c.2;
    let total = sum::sum(&cells.iter().map(part).collect::<Vec<_>>());
    let all_together = ln_gamma_q(degrees as f64 / 2.0, total / 2.0).exp();
    let alone = |c: &(String, f64, f64)| cells.len() as f64 * 2.0 * tail(c.1, c.2);
    let (name, seen, expected) = cells.iter().min_by(|a, b| alone(a).total_cmp(&alone(b)))?;
    let most_telling = cells.iter().map(alone).fold(1.0, f64::min);
    let p = (2.0 * all_together.min(most_telling)).min(1.0);
    let name = if name.is_empty() { "not recorded" } else { name };
    Some(Comparison {
        by: what.to_owned(),
        p_value_probability: p,
        differs: false,
        stands_out: format!(
            "{name} {} {} where {expected:.1} are expected",
            if name == TOGETHER { "have" } else { "has" },
            counted(*seen as u64, "failure")
        ),
    })
}

/// Where curve and model lie farthest apart, at the steps of the curve (age, reliability); the model is taken given survival
/// to the start of the curve.
pub(super) fn largest_gap(life: &dyn Life, from: f64, steps: impl Iterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    let start = life.ln_reliability(from);
    let mut above = 1.0;
    let mut gaps = Vec::new();
    for (age, below) in steps {
        let model = (life.ln_reliability(age) - start).exp();
        gaps.push((age, (model - below).abs().max((model - above).abs())));
        above = below;
    }
    gaps.into_iter().filter(|g| g.1.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(cells: &[(f64, f64)]) -> BTreeMap<String, Cell> {
        let one = |(i, (seen, expected)): (usize, &(f64, f64))| {
            (format!("site {i:02}"), Cell { seen: *seen, expected: vec![*expected] })
        };
        cells.iter().enumerate().map(one).collect()
    }

    #[test]
    fn tails_by_hand() {
        // P(X >= 3), P(X <= 1) and P(X <= 0) for a mean of 2: 1 - 5 e^-2, 3 e^-2, e^-2.
        for (seen, expected) in
            [(3.0, 1.0 - 5.0 * (-2.0_f64).exp()), (1.0, 3.0 * (-2.0_f64).exp()), (0.0, (-2.0_f64).exp())]
        {
            assert!((tail(seen, 2.0) - expected).abs() < 1e-14, "{seen}");
        }
    }

    #[test]
    fn what_stands_out_is_a_sentence_for_one_and_for_several() {
        let cells: Vec<(f64, f64)> = [(10.0, 10.0); 6].into_iter().chain([(6.0, 1.0); 8]).collect();
        let told = chi_square("batch", table(&cells)).unwrap().stands_out;
        assert_eq!(told, "the smallest ones together have 48 failures where 8.0 are expected");
    }

    #[test]
    fn one_bad_site_among_forty_is_seen_and_named() {
        let mut cells = vec![(10.0, 10.0); 40];
        cells[14] = (29.0, 10.0);
        let found = chi_square("site", table(&cells)).unwrap();
        // The sum alone, 36.1 over 39 degrees of freedom, is what chance makes of it in every second chain.
        assert!(found.p_value_probability < 1e-3 && found.stands_out.contains("site 14 has 29"), "{found:?}");
        let even = chi_square("site", table(&[(10.0, 10.0); 40])).unwrap();
        assert_eq!(even.p_value_probability, 1.0);
        // Many that differ a little are still seen by the sum.
        let spread: Vec<(f64, f64)> = (0..40).map(|i| (if i % 2 == 0 { 16.0 } else { 4.0 }, 10.0)).collect();
        assert!(chi_square("site", table(&spread)).unwrap().p_value_probability < 1e-8);
    }
}
