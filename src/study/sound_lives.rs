//! What must hold of saved answers against the lives they were made from: what was seen is counted again, the curve and
//! the incidences are drawn again, and each listed lamp is a life that burns.

use std::collections::BTreeMap;

use super::class_result::{ClassResult, CurvePoint, CurveResult};
use super::decide::LEVEL;
use super::describe::{CURVE_READING, curve_result, past_limit};
use super::output::{Evidence, StudyOutput, TracedLife};
use super::overdue::OverdueLists;
use crate::base::sound::Checks;
use crate::empirical::{CurveOptions, incidence, product_limit};
use crate::lives::{LifeOptions, Rows, Tally};
use crate::records::Ending;

/// Every answer that follows from the lives of the evidence.
pub(super) fn lives_bear_out(c: &mut Checks, output: &StudyOutput) {
    let (results, evidence) = (&output.results, &output.evidence);
    for (i, life) in evidence.lives.iter().enumerate() {
        let failure = results.study.failure_endings.iter().any(|word| word == life.ending.as_str());
        c.follows(&format!("evidence.lives[{i}].failure"), &life.failure, &failure);
    }
    for (i, class) in results.classes.iter().enumerate() {
        c.inside(&format!("results.classes[{i}]"), |c| class_has_lives(c, class, evidence));
    }
    c.inside("results.overdue", |c| lamps_burn(c, &results.overdue, evidence));
}

/// The lives of a class, counted again.
fn class_has_lives(c: &mut Checks, class: &ClassResult, evidence: &Evidence) {
    let lives: Vec<&TracedLife> = evidence.lives.iter().filter(|l| l.lamp_class == class.name).collect();
    let count = |wanted: &dyn Fn(&TracedLife) -> bool| lives.iter().filter(|l| wanted(l)).count() as u64;
    let seen = &class.seen;
    let tally = tally(&lives);
    for (field, got, expected) in [
        ("seen.lamps_count", seen.lamps_count, lives.len() as u64),
        ("seen.failures_count", seen.failures_count, count(&|l| l.failure)),
        ("seen.running_count", seen.running_count, count(&|l| l.ending == Ending::Running)),
        (
            "seen.late_entry_count",
            seen.late_entry_count,
            count(&|l| l.at_risk_hours.first().is_some_and(|(from, _)| *from > 0.0)),
        ),
        (
            "seen.interval_failures_count",
            seen.interval_failures_count,
            tally.as_ref().map_or(0, Tally::interval_failures),
        ),
        (
            "seen.oldest_at_risk_lamps_count",
            seen.oldest_at_risk_lamps_count,
            tally.as_ref().map_or(0, Tally::oldest_at_risk_count),
        ),
    ] {
        c.need(field, got == expected, got, format!("{expected}, the lives of the evidence"));
    }
    for end in &seen.endings {
        let expected = count(&|l| l.ending == end.ending);
        let told = format!("{expected} of {}, the lives of the evidence", end.ending);
        c.need("seen.endings", end.lives_count == expected, end.lives_count, told);
    }
    c.equal("seen.exposure_hours", seen.exposure_hours, tally.as_ref().map_or(0.0, Tally::exposure_hours));
    let oldest = tally.as_ref().and_then(Tally::oldest_at_risk).unwrap_or(0.0);
    c.equal("seen.oldest_at_risk_hours", seen.oldest_at_risk_hours, oldest);
    let ages = lives.iter().map(|l| (l.high_hours, l.ending == Ending::Running));
    let past = past_limit(ages, class.limit.limit_hours.min(class.limit.maker_limit_hours));
    // Results of before do not tell of it.
    if seen.past_limit.is_some() || past.is_none() {
        c.follows("seen.past_limit", &seen.past_limit, &past);
    }
    let Some(tally) = tally else { return };
    let options = CurveOptions { level: LEVEL, reading: Some(CURVE_READING), ..CurveOptions::default() };
    let made = product_limit(&tally, &options).ok().map(|curve| curve_result(&curve, &tally));
    let same = match (&class.curve, &made) {
        (Some(got), Some(made)) => alike(got, made),
        (got, made) => got.is_none() && made.is_none(),
    };
    c.need("curve", same, "another curve", "that of the lives of the evidence");
    let Ok(made) = incidence(&tally, &options) else { return };
    for (i, cause) in class.causes.iter().enumerate() {
        let age = made.last_age.min(class.limit.limit_hours);
        let reaches = age >= made.conditional_from && age <= made.last_age;
        let none = (reaches && cause.failures_count == 0).then_some(0.0);
        let expected = made.incidence_at(cause.ending, age).or(none);
        let same = near(cause.incidence_probability, expected);
        let said = |p: Option<f64>| p.map_or_else(|| "empty".to_owned(), |p| p.to_string());
        let field = format!("causes[{i}].incidence_probability");
        c.need(&field, same, said(cause.incidence_probability), said(expected));
        let age = expected.map(|_| age);
        c.follows(&format!("causes[{i}].incidence_age_hours"), &cause.incidence_age_hours, &age);
    }
}

/// Whether two curves are the same but for the last digits, which another machine may round otherwise.
fn alike(a: &CurveResult, b: &CurveResult) -> bool {
    let point = |(a, b): (&CurvePoint, &CurvePoint)| {
        (a.age_hours, a.at_risk_count, a.failures_count) == (b.age_hours, b.at_risk_count, b.failures_count)
            && near(Some(a.reliability_probability), Some(b.reliability_probability))
            && near(a.low_probability, b.low_probability)
            && near(a.high_probability, b.high_probability)
    };
    let rest = |of: &CurveResult| CurveResult { points: Vec::new(), ..of.clone() };
    a.points.len() == b.points.len() && a.points.iter().zip(&b.points).all(point) && rest(a) == rest(b)
}

fn near(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9,
        (a, b) => a == b,
    }
}

/// The tally of some lives, as a run makes it; none where no life was under observation.
fn tally(lives: &[&TracedLife]) -> Option<Tally> {
    let mut rows = Rows { entry: Some(Vec::new()), ending: Some(Vec::new()), ..Rows::default() };
    let mut push = |entry: f64, low: f64, high: f64, ending| {
        rows.entry.get_or_insert_default().push(entry);
        rows.low.push(low);
        rows.high.push(high);
        rows.ending.get_or_insert_default().push(ending);
    };
    for life in lives {
        let Some((&(from, _), earlier)) = life.at_risk_hours.split_last() else { continue };
        for &(from, to) in earlier {
            push(from, to, f64::INFINITY, Ending::Running);
        }
        let (low, end) = (life.low_hours, life.high_hours);
        if !life.failure {
            push(from, low.max(from), f64::INFINITY, life.ending);
        } else if end == from {
            push(from, from, from + LifeOptions::default().meter_step_hours, life.ending);
        } else {
            push(from, low, end, life.ending);
        }
    }
    Tally::from_rows(&rows).ok().map(|(tally, _)| tally)
}

/// Every lamp listed with its hours is a life that burns, in its place, by its last row.
fn lamps_burn(c: &mut Checks, lists: &OverdueLists, evidence: &Evidence) {
    let burning = evidence.lives.iter().filter(|l| l.ending == Ending::Running);
    let lives: BTreeMap<(&str, &str), &TracedLife> =
        burning.map(|l| ((l.lamp_class.as_str(), l.serial.as_str()), l)).collect();
    let due = lists.at_limit.iter().enumerate().map(|(i, l)| {
        (
            format!("at_limit[{i}]"),
            &l.lamp_class,
            &l.serial,
            (&l.site, &l.screen),
            l.reading_hours,
            l.read_on,
            (&l.file, l.line),
        )
    });
    let soon = lists.soon.iter().enumerate().map(|(i, l)| {
        (
            format!("soon[{i}]"),
            &l.lamp_class,
            &l.serial,
            (&l.site, &l.screen),
            l.reading_hours,
            Some(l.read_on),
            (&l.file, l.line),
        )
    });
    for (field, class, serial, (site, screen), hours, read_on, (file, line)) in due.chain(soon) {
        c.inside(&field, |c| {
            let Some(life) = lives.get(&(class.as_str(), serial.as_str())) else {
                return c.need("serial", false, serial, "a lamp of the evidence that burns");
            };
            c.follows("site", site, &life.site);
            c.follows("screen", screen, &life.screen);
            c.follows("reading_hours", &hours, &life.high_hours);
            c.follows("read_on", &read_on, &life.read_on);
            let row = format!("{file}:{line}");
            c.need("line", life.rows.last() == Some(&row), &row, "the last row of that lamp");
        });
    }
}
