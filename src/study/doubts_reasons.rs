//! Reasons that count as failures and may stand for planned changes: every figure hangs on the map of reasons.

use std::collections::{BTreeMap, BTreeSet};

use super::declare_class::LampClass;
use super::open::Study;
use crate::base::figure::{counted, hours, short, whole};
use crate::base::run::Run;
use crate::family::WeibullFamily;
use crate::fit::{FitOptions, Quantity, Sides, fit};
use crate::lives::{Rows, Tally};
use crate::records::{Ending, Finding, Outcome, Reading, Spell, fold, nearest};

/// Rule of a failure that stands where lamps are changed on plan.
pub(super) const REASON_HEAPED: &str = "study.reason_heaped";
/// Rule of logs in which no removal is a planned change.
pub(super) const NO_PLANNED_REASON: &str = "study.no_planned_reason";
/// Rule of a line of the map that no row uses.
pub(super) const REASON_UNUSED: &str = "study.reason_unused";
/// Rule of a class whose lamps all ended by one cause.
pub(super) const ONE_CAUSE: &str = "study.one_cause";
/// Hours from an age within which a row stands at it.
///
/// Common practice, no source: lamps are changed on plan within a day of programme of the age, mostly at the meter's very
/// hour.
const HEAP_HOURS: f64 = 5.0;
/// Fewest rows of a reason, or removals, from which they are judged.
const HEAP_ROWS: u64 = 10;
/// Fewest of them at one age for which it is doubted: that many of ten are no chance.
const HEAP_LEAST: u64 = 6;
/// Share of them at one age above which a failure is doubted.
///
/// Our choice, without a source: on the invented chain planned changes have half of their rows there, failures a tenth at
/// most.
const HEAP_SHARE: f64 = 0.3;
/// Weibull shape above which the ages of a reason lie closer together than those of lamps that fail.
///
/// Common practice, no source: wear of lamps has shapes from 2 to 6. Planned changes that are spread evenly over a fifth of
/// the age to either side have one of about 10, over a quarter one of about 8.
const STEEP_SHAPE: f64 = 6.5;
/// Chance with which the lower bound lies below the shape of a reason.
///
/// Our choice, without a source: of 12,000 simulated classes of 12 to 200 lamps each, one with failures of shape 4 was
/// doubted and eight with failures of shape 5, while forty planned changes spread over a fifth of the age are doubted in
/// five of six logs, and sixty in nearly every one.
const STEEP_LEVEL: f64 = 0.99;
/// Fewest rows of a reason from which it is asked how close they lie.
///
/// Our choice, without a source: fewer failures of shape 5 lie close together by chance, in one class of 800 with six.
const STEEP_ROWS: usize = 8;
/// How far from an age the middle of a reason may lie to stand near it, as a share of the age.
///
/// Our choice, without a source: half of the spread to either side at which nearly every such reason is doubted.
const STEEP_NEAR: f64 = 0.1;
/// Share of the removals that are failures above which logs without a planned change are doubted.
///
/// Our choice, without a source: where planned changes are left blank, they are unknown endings and no failures.
const FAILED_SHARE: f64 = 0.8;
/// Fewest removals of a class from which one cause for all of them is doubted.
///
/// Our choice, without a source: as many as a log as a whole is judged from.
const ONE_CAUSE_ROWS: u64 = 20;

impl Study {
    /// What speaks against the map of reasons: a reason that counts as a failure while its rows stand where lamps are
    /// changed on plan, either many at one age or all of them close together near it; logs in which no removal is a planned
    /// change; a class whose lamps all failed of one cause; a line that no row uses.
    pub(super) fn doubtful_reasons(&self, reading: &Reading, file: &str) -> Vec<Finding> {
        let declared = &self.declaration;
        let finding = |line, column, value, rule: &str, sentence| Finding {
            file: file.to_owned(),
            row: 0,
            line,
            column,
            value,
            rule: rule.to_owned(),
            outcome: Outcome::Used,
            serial: String::new(),
            sentence,
        };
        let failed = |s: &Spell<'_>| declared.failure_endings.contains(&s.ending);
        let mut told = Vec::new();
        let mut heaps: BTreeMap<String, Heap<'_>> = BTreeMap::new();
        let (mut removals, mut failures, mut planned) = (0, 0, false);
        let mut given: BTreeSet<&str> = BTreeSet::new();
        for s in reading.spells.iter() {
            given.insert(s.reason);
            if s.removed_on.is_none() {
                continue;
            }
            removals += 1;
            failures += u64::from(failed(&s));
            planned |= s.ending == Ending::Planned;
            let Some(class) = declared.classes.iter().find(|c| *c.name == **s.lamp_class) else { continue };
            if failed(&s) {
                heaps.entry(fold(s.reason)).or_default().add(&s, class);
            }
        }
        for ((text, ending), line) in declared.reasons.iter().zip(&declared.reason_lines) {
            let Some(heap) = heaps.remove(&fold(text)) else { continue };
            if let Some(sentence) = heap.at_one_age().or_else(|| heap.close_together(reading, text)) {
                let column = format!("reasons.\"{text}\"");
                told.push(finding(*line, column, ending.as_str().to_owned(), REASON_HEAPED, sentence));
            }
        }
        // Judged by the rows: a line of the map that no row uses says nothing of what they stand for.
        if !planned && removals >= HEAP_ROWS && failures as f64 > FAILED_SHARE * removals as f64 {
            let line = declared.reason_lines.first().copied().unwrap_or(0);
            let sentence = format!(
                "no removal counts as a planned change, and {} of {} count as failures: under which word do lamps stand that \
                 were changed on plan?",
                whole(failures as f64),
                counted(removals, "removal")
            );
            told.push(finding(line, "reasons".to_owned(), counted(failures, "failure"), NO_PLANNED_REASON, sentence));
        }
        for class in &declared.classes {
            let of_class = || reading.spells.iter().filter(|s| s.removed_on.is_some() && **s.lamp_class == *class.name);
            let Some(cause) = of_class().next().map(|s| s.ending).filter(|e| declared.failure_endings.contains(e))
            else {
                continue;
            };
            let count = of_class().count() as u64;
            if count < ONE_CAUSE_ROWS || !of_class().all(|s| s.ending == cause) {
                continue;
            }
            let sentence = format!(
                "every one of {} of this class counts as {}, and none as a planned change or another cause: are the reasons \
                 mapped as they are meant?",
                counted(count, "removal"),
                cause.as_str().replace('_', " ")
            );
            let column = format!("class \"{}\".name", class.name);
            told.push(finding(class.line, column, class.name.clone(), ONE_CAUSE, sentence));
        }
        // Last, as a map made for many logs may have many such lines.
        let mapped: BTreeSet<String> = declared.reasons.iter().map(|(text, _)| fold(text)).collect();
        let folded: BTreeSet<String> = given.iter().map(|text| fold(text)).collect();
        for ((text, ending), line) in declared.reasons.iter().zip(&declared.reason_lines) {
            if folded.contains(&fold(text)) {
                continue;
            }
            let other = given.iter().filter(|other| !mapped.contains(&fold(other)) && !other.trim().is_empty());
            let sentence =
                format!("no row in use has this reason{}; the line changes nothing", nearest(text, other.copied()));
            told.push(finding(
                *line,
                format!("reasons.\"{text}\""),
                ending.as_str().to_owned(),
                REASON_UNUSED,
                sentence,
            ));
        }
        told
    }
}

/// Rows of one reason, those of them near an age at which lamps are changed on plan, and their ages by class.
#[derive(Default)]
struct Heap<'d> {
    rows: u64,
    at_limit: u64,
    at_rule: u64,
    ages: BTreeMap<&'d str, (&'d LampClass, Vec<f64>)>,
}

impl<'d> Heap<'d> {
    fn add(&mut self, s: &Spell<'_>, class: &'d LampClass) {
        let near = |age: f64| u64::from((s.end_hours - age).abs() <= HEAP_HOURS);
        self.rows += 1;
        self.at_limit += near(class.limit.hours());
        self.at_rule += near(class.todays_rule_hours);
        self.ages.entry(&class.name).or_insert_with(|| (class, Vec::new())).1.push(s.end_hours);
    }

    /// Many rows at the hour limit or at today's planned age: lamps that fail do so at any age.
    fn at_one_age(&self) -> Option<String> {
        let (most, which) = if self.at_rule >= self.at_limit {
            (self.at_rule, "today's planned age")
        } else {
            (self.at_limit, "the hour limit")
        };
        let share = most as f64 / self.rows as f64;
        if self.rows < HEAP_ROWS || most < HEAP_LEAST || share <= HEAP_SHARE {
            return None;
        }
        Some(format!(
            "{} of {} with this reason ({} %) stand within {HEAP_HOURS} h of {which}, where lamps changed on plan heap and \
             lamps that fail do not: does it stand for a planned change?",
            whole(most as f64),
            counted(self.rows, "row"),
            whole(100.0 * share)
        ))
    }

    /// Rows near one of these ages that lie closer together than failures do, though on no single age: of one class, or
    /// of all classes together with ages as shares of the planned age of each.
    fn close_together(&self, reading: &Reading, text: &str) -> Option<String> {
        let of_one = self.ages.values().find_map(|(class, ages)| {
            let (middle, rows) = close(ages)?;
            let near = |age: f64| (middle / age - 1.0).abs() <= STEEP_NEAR;
            let (age, which) = match (class.todays_rule_hours, class.limit.hours()) {
                (rule, _) if near(rule) => (rule, "today's planned age"),
                (_, limit) if near(limit) => (limit, "the hour limit"),
                _ => return None,
            };
            steep(reading, &[(class, 1.0)], text).map(|shape| {
                (format!("{} of {}", counted(rows, "row"), class.name), format!("{which} of {} h", hours(age)), shape)
            })
        });
        let of_all = || {
            let scales: Vec<(&LampClass, f64)> =
                self.ages.values().map(|(class, _)| (*class, class.todays_rule_hours)).collect();
            let shares = self.ages.values().flat_map(|(class, ages)| ages.iter().map(|a| a / class.todays_rule_hours));
            let (middle, rows) = close(&shares.collect::<Vec<_>>())?;
            if scales.len() < 2 || (middle - 1.0).abs() > STEEP_NEAR {
                return None;
            }
            let of = format!("{} of {}", counted(rows, "row"), counted(scales.len() as u64, "lamp class"));
            steep(reading, &scales, text).map(|shape| (of, "today's planned age of each".to_owned(), shape))
        };
        let (rows, which, (shape, least)) = of_one.or_else(of_all)?;
        Some(format!(
            "the ages of {rows} with this reason lie close together near {which}, with a Weibull shape of {} (at least {} by \
             {} %), where lamps changed on plan heap and lamps that fail do not: does it stand for a planned change?",
            short(shape),
            short(least),
            short(100.0 * STEEP_LEVEL)
        ))
    }
}

/// The middle of some ages and how many they are, where they are enough and lie as close as the wanted shape lets them.
fn close(ages: &[f64]) -> Option<(f64, u64)> {
    let mut ages = ages.to_vec();
    ages.sort_by(f64::total_cmp);
    let middle = *ages.get(ages.len() / 2).filter(|_| ages.len() >= STEEP_ROWS)?;
    let mean = ages.iter().sum::<f64>() / ages.len() as f64;
    let spread = ages.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / ages.len() as f64;
    // No shape of the wanted steepness spreads as far, whatever was removed before.
    (spread.sqrt() <= 2.0 * mean / STEEP_SHAPE).then_some((middle, ages.len() as u64))
}

/// Weibull shape of the ages at which lamps of some classes left for one reason, and its lower bound, where that passes
/// what lamps that fail have. Ages are divided by the number beside their class; every other lamp is seen as long as it
/// burned.
fn steep(reading: &Reading, classes: &[(&LampClass, f64)], text: &str) -> Option<(f64, f64)> {
    let text = fold(text);
    let mut rows = Rows { entry: Some(Vec::new()), ending: Some(Vec::new()), ..Rows::default() };
    for s in reading.spells.iter().filter(|s| s.end_hours > s.entry_hours) {
        let Some((_, scale)) = classes.iter().find(|(class, _)| *class.name == **s.lamp_class) else { continue };
        let left = s.removed_on.is_some() && fold(s.reason) == text;
        let end = s.end_hours / scale;
        let (high, ending) = if left { (end, Ending::Other) } else { (f64::INFINITY, Ending::Running) };
        rows.entry.get_or_insert_default().push(s.entry_hours / scale);
        rows.low.push(end);
        rows.high.push(high);
        rows.ending.get_or_insert_default().push(ending);
    }
    let (tally, _) = Tally::from_rows(&rows).ok()?;
    let options = FitOptions { endings: Some(vec![Ending::Other]), ..FitOptions::default() };
    let found = fit(&WeibullFamily, &tally, &options, &Run::new()).ok()?;
    let bound = found.wald(&Quantity::Parameter("shape".to_owned()), STEEP_LEVEL, Sides::Lower).ok()?;
    let share = unbiased(rows.high.iter().filter(|high| high.is_finite()).count());
    let least = bound.low.map(|least| share * least).filter(|least| *least > STEEP_SHAPE)?;
    Some((share * bound.estimate?, least))
}

/// What takes the mean excess off a Weibull shape of maximum likelihood from so many failures.
///
/// Without it few failures of an even wear would be taken for steeper ones: by chance alone one reason in sixty chains was.
///
/// # Source
/// Fitted to the printed factors of D. R. Thoman, L. J. Bain and C. E. Antle (1969), Technometrics 11, 445-460, for lamps that
/// all failed (from memory): 0.820 for 8, 0.859 for 10, 0.931 for 20; with lamps that left before, the excess is larger.
fn unbiased(failures: usize) -> f64 {
    let n = failures.max(3) as f64;
    1.0 - 1.346 / n - 0.833 / (n * n)
}
